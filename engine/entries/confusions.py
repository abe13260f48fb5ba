"""Words that are heard for one another, by anybody or from a voice of which that is known, and words before which
another is easily lost: what else an utterance may have been."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache

from engine.entries.matching.slot_fit import is_usual
from engine.entries.phrases.phrase import Meaning
from engine.entries.phrases.tokens import Token, fold, tokenize
from engine.entries.phrases.vocabulary import Vocabulary
from engine.expectation import Expectation, SlotKind
from engine.messages import Confusion, Either, Entry, Given, Reported, Unclear, Utterance
from engine.values import Value

Rereads = Callable[[str], tuple[Entry, ...]]


@lru_cache(maxsize=8)
def sound_alikes(vocabulary: Vocabulary) -> Mapping[str, tuple[str, ...]]:
    """For each word that sounds like others, those others."""
    partners: dict[str, tuple[str, ...]] = {}
    for one, other in vocabulary.sound_alikes:
        partners[fold(one)] = (*partners.get(fold(one), ()), other)
        partners[fold(other)] = (*partners.get(fold(other), ()), one)
    return partners


def exchanged(text: str, span: tuple[int, int], confusions: Iterable[Confusion]) -> Iterator[str]:
    """The text with one thing in a span of it changed for what this voice may have said instead."""
    begin, end = span
    tokens = tuple(token for token in tokenize(text) if begin <= token.start and token.end <= end)
    for one in confusions:
        for start, stop in _places(one.heard, tokens):
            yield f"{text[:start]}{one.said}{text[stop:]}"


def _places(words: str, tokens: Sequence[Token]) -> Iterator[tuple[int, int]]:
    """Where words stand among tokens, from and to."""
    wanted = [token.key for token in tokenize(words)]
    for at in range(len(tokens) - len(wanted) + 1 if wanted else 0):
        found = tokens[at : at + len(wanted)]
        if [token.key for token in found] == wanted:
            yield found[0].start, found[-1].end


@lru_cache(maxsize=8)
def scales(vocabulary: Vocabulary) -> frozenset[str]:
    """The words that multiply the number before them, such as hundred."""
    phrases = (one for said in vocabulary.rules.values() for one in said if one.means is Meaning.SCALE)
    names = {name for one in phrases for name in one.rules}
    tables = [table for name, table in vocabulary.numbers.words.items() if name in names]
    large = (one for table in tables for digits in ("100", "1000") for one in table.get(digits, ()))
    return frozenset(word for one in large for word in one.words)


class VoiceDoubt:
    """The other readings of one utterance, by the confusions that are known of its voice; none where none is known.

    A reading counts only where all of it means something. It is asked however sure the ears were: that a word is
    heard for another surely is what makes it a confusion.
    """

    def __init__(self, utterance: Utterance, expectation: Expectation, reread: Rereads) -> None:
        self._utterance, self._reread = utterance, reread
        self._slot = expectation.slot

    def values(self, given: Given, number: int) -> tuple[Value, ...]:
        """What may have been given instead, usual values first."""
        slot = self._slot(given.slot)
        if slot is None or given.doubt is not None or slot.kind is SlotKind.TEXT:
            return ()
        found = (value for one in self._others(given.said, number) for value in other_values(given, one))
        return tuple(sorted(dict.fromkeys(found), key=lambda value: not is_usual(value, slot)))

    def rows(self, entries: tuple[Entry, ...]) -> Either | None:
        """Other rows that may have been named; the row that is asked for needs no such question."""
        first = all_given(entries)
        slot = self._slot(first[0].slot) if len(first) == 1 else None
        if not first or (slot is not None and slot.next_row == first[0].row):
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
