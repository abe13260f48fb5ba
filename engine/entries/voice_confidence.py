"""What else an utterance may have been in the mouth of somebody who is known to be heard for other words."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from engine.entries.confusions import exchanged
from engine.entries.matching.slot_fit import is_usual
from engine.expectation import Expectation, ExpectedSlot, SlotKind
from engine.messages import Either, Entry, Given, Reported, Unclear, Utterance
from engine.values import Value

Rereads = Callable[[str], tuple[Entry, ...]]


class VoiceDoubt:
    """The other readings of one utterance, by the confusions that are known of its voice; none where none is known.

    A reading counts only where all of it means something. It is asked however sure the ears were: that a word is
    heard for another surely is what makes it a confusion.
    """

    def __init__(self, utterance: Utterance, expectation: Expectation, reread: Rereads) -> None:
        self._utterance, self._reread = utterance, reread
        self._slots = (*expectation.slots, *expectation.known)

    def values(self, given: Given, number: int) -> tuple[Value, ...]:
        """What may have been given instead, usual values first."""
        slot = self._slot(given)
        if slot is None or given.doubt is not None or slot.kind is SlotKind.TEXT:
            return ()
        found = (value for one in self._others(given.said, number) for value in other_values(given, one))
        return tuple(sorted(dict.fromkeys(found), key=lambda value: not is_usual(value, slot)))

    def rows(self, entries: tuple[Entry, ...]) -> Either | None:
        """Other rows that may have been named; the row that is asked for needs no such question."""
        first = all_given(entries)
        if not first or (len(first) == 1 and self._is_next(first[0])):
            return None
        for found in self._readings(self._utterance.text):
            other = all_given(found)
            if other and [one.row for one in first] != [one.row for one in other]:
                return Either(readings=(first, other), alike=True)
        return None

    def report(self, report: Reported, number: int) -> bool:
        """Whether another report may have been told."""
        return any(is_other(report, (one,)) for one in self._others(report.said, number))

    def otherwise(self, entries: tuple[Entry, ...]) -> bool:
        """Whether the whole may have meant anything else."""
        return any(found != entries for found in self._readings(self._utterance.text))

    def _others(self, said: str, number: int) -> Iterator[Entry]:
        """What stands in the same place of each other reading of a piece of the text."""
        return (found[number] for found in self._readings(said) if number < len(found))

    def _readings(self, said: str) -> Iterator[tuple[Entry, ...]]:
        place = span(self._utterance.text, said)
        for text in exchanged(self._utterance.text, place, self._utterance.confusions):
            found = self._reread(text)
            if not any(isinstance(one, Unclear) for one in found):
                yield found

    def _is_next(self, given: Given) -> bool:
        slot = self._slot(given)
        return slot is not None and slot.next_row == given.row

    def _slot(self, given: Given) -> ExpectedSlot | None:
        return next((slot for slot in self._slots if slot.name == given.slot), None)


def span(text: str, said: str) -> tuple[int, int]:
    """Where a piece of a text stands in it, from and to; the whole of it where it does not."""
    begin = text.find(said)
    return (begin, begin + len(said)) if begin >= 0 else (0, len(text))


def all_given(entries: tuple[Entry, ...]) -> tuple[Given, ...]:
    """The entries where all of them are values; none otherwise."""
    givens = tuple(entry for entry in entries if isinstance(entry, Given))
    return givens if len(givens) == len(entries) else ()


def other_values(given: Given, entry: Entry) -> Iterator[Value]:
    """Values of an entry for the same place that are not the one given."""
    if isinstance(entry, Given) and (entry.slot, entry.row) == (given.slot, given.row):
        yield from (value for value in (entry.value, *entry.rivals) if value != given.value)


def is_other(report: Reported, entries: tuple[Entry, ...]) -> bool:
    """Whether another report stands there, whatever the words."""
    return any(
        isinstance(entry, Reported) and entry != report.model_copy(update={"said": entry.said}) for entry in entries
    )
