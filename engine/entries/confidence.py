"""Whether a value was heard well enough to keep, and what else it may have been."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from engine.entries.acceptance import Acceptance
from engine.entries.confusions import scales, sound_alikes
from engine.entries.matching.numerals import spell
from engine.entries.matching.slot_fit import is_usual
from engine.entries.phrases.tokens import Token, tokenize
from engine.entries.phrases.vocabulary import Vocabulary
from engine.entries.voice_confidence import Rereads, VoiceDoubt, all_given, is_other, other_values, span
from engine.expectation import CLOSED, Expectation, ExpectedSlot, SlotKind
from engine.messages import (
    Answered,
    Asked,
    Chosen,
    Commanded,
    Correcting,
    Decision,
    DoubtReason,
    Either,
    Entry,
    Given,
    LeavingOut,
    Opened,
    Repairing,
    Report,
    Reported,
    Unclear,
    UnclearReason,
    Utterance,
)
from engine.values import Value

MOST_SWAPS = 6


class ConfidenceCheck:
    """The doubts about one utterance."""

    def __init__(
        self, utterance: Utterance, expectation: Expectation, vocabulary: Vocabulary, acceptance: Acceptance
    ) -> None:
        self.utterance = utterance
        self.expectation = expectation
        self.acceptance = acceptance
        self.tokens = tokenize(utterance.text)
        self.certain = _confidences(utterance, self.tokens)
        self.partners = sound_alikes(vocabulary)
        self.scales = scales(vocabulary)
        self.one = spell(1, vocabulary.language)

    def about(self, entries: tuple[Entry, ...], reread: Rereads) -> tuple[Entry, ...]:
        """The same entries with their doubts; what was heard too badly becomes unclear."""
        entries = tuple(self._likeliest_first(entry) for entry in entries)
        if not self.utterance.spoken:
            return with_rest(tuple(self._unusual(entry) for entry in entries))
        self.own = VoiceDoubt(self.utterance, self.expectation, reread)
        disputed = self._disputed_rows(entries, reread) or self.own.rows(entries)
        if disputed is not None:
            return (disputed,)
        return with_rest(tuple(self._heard(entry, number, entries, reread) for number, entry in enumerate(entries)))

    def _likeliest_first(self, entry: Entry) -> Entry:
        """A doubtful value that is unusual gives way to a rival that is not."""
        slot = self._slot(entry) if isinstance(entry, Given) and entry.rivals else None
        if not isinstance(entry, Given) or slot is None:
            return entry
        values = sorted((entry.value, *entry.rivals), key=lambda value: not is_usual(value, slot))
        return entry.model_copy(update={"value": values[0], "rivals": tuple(values[1:])})

    def _heard(self, entry: Entry, number: int, entries: tuple[Entry, ...], reread: Rereads) -> Entry:
        match entry:
            case Answered(yes=True):
                return self._or_unclear(entry, self.acceptance.yes_kept, entries)
            case Answered() | Chosen():
                return self._or_unclear(entry, self.acceptance.answer_kept, entries)
            case Commanded() | LeavingOut() | Repairing() | Opened() | Asked() | Correcting():
                return self._or_unclear(entry, self.acceptance.command_kept, entries)
            case Reported():
                return self._report(entry, number, reread)
            case Given():
                return self._value(entry, number, entries, reread)
            case Unclear(reason=UnclearReason.MISPLACED):
                return self._or_unclear(entry, self.acceptance.value_heard, entries)
            case _:
                return entry

    def _or_unclear(self, entry: Entry, needed: float, entries: tuple[Entry, ...]) -> Entry:
        """What this voice may have meant otherwise must be heard as surely as what sounds alike."""
        if self.own.otherwise(entries):
            needed = max(needed, self.acceptance.sound_alike_kept)
        if self.utterance.confidence >= needed:
            return entry
        return Unclear(reason=self._badly_heard, said=self.utterance.text[:60])

    @property
    def _badly_heard(self) -> UnclearReason:
        """Noise is named only where it was measured; clear sound may be a voice or words that are hard to tell."""
        return UnclearReason.TOO_NOISY if self.utterance.noisy else UnclearReason.UNSURE

    def _report(self, report: Reported, number: int, reread: Rereads) -> Entry:
        """A report is taken only when it was heard as well as its rows and numbers need, and asked somewhat below."""
        swapped = (reread(text) for text in islice(self._swapped(report.said), MOST_SWAPS))
        alike = any(is_other(report, entries[number : number + 1]) for entries in swapped)
        needed = self.acceptance.sound_alike_kept if alike else self.acceptance.command_kept
        sure = self._certainty(report.said)
        if sure >= needed and not self.own.report(report, number):
            return report
        if sure >= self.acceptance.report_heard:
            return report.model_copy(update={"doubt": DoubtReason.LOW_CONFIDENCE})
        return Unclear(reason=self._badly_heard, said=report.said)

    def _value(self, given: Given, number: int, entries: tuple[Entry, ...], reread: Rereads) -> Entry:
        count, sure = len(entries), self._certainty(given.said)
        slot = self._slot(given)
        closed = self.expectation.asking in CLOSED
        if sure < self.acceptance.value_heard:
            return Unclear(reason=self._badly_heard, said=given.said, slot=given.slot, row=given.row)
        if own := self.own.values(given, number):
            return self._doubtful(given, tuple(dict.fromkeys((*own, *self._others(given, number, count, reread)))))
        if slot is None or given.doubt is not None or slot.kind in _WORDS_ONLY:
            return self._low(given, sure)
        if self._bare_scale(given, number, reread):
            return self._doubtful(given, ())
        alone = sum(isinstance(entry, Given) and entry.said == given.said for entry in entries) == 1
        if alone and sure < self.acceptance.sound_alike_kept and given.row != slot.next_row:
            other = self._other_row(given, number, reread)
            if other is not None:
                return Either(readings=((given,), (other,)), alike=True)
        usual = is_usual(given.value, slot)
        if not usual and closed:
            return Unclear(reason=self._badly_heard, said=given.said)
        alike = tuple(value for value in self._alike(given, number, reread) if is_usual(value, slot) or not usual)
        expected = usual and slot.usual is not None
        if self.acceptance.decide(sure, bool(alike), expected) is Decision.KEEP and (usual or not alike):
            return self._unusual(given)
        others = tuple(self._others(given, number, count, reread))
        rivals = tuple(value for value in dict.fromkeys((*others, *alike)) if usual or is_usual(value, slot))
        return self._likeliest_first(self._doubtful(given, rivals))

    def _doubtful(self, given: Given, rivals: tuple[Value, ...]) -> Given:
        """Barely heard, or doubtful between values, else for what was heard too badly or is unusual."""
        if self._certainty(given.said) < self.acceptance.repeat_kept:
            return given.model_copy(update={"doubt": DoubtReason.BARELY_HEARD, "rivals": rivals})
        if rivals:
            return given.model_copy(update={"doubt": DoubtReason.SOUND_ALIKE, "rivals": rivals})
        slot = self._slot(given)
        reason = DoubtReason.LOW_CONFIDENCE if slot is None or is_usual(given.value, slot) else DoubtReason.UNUSUAL
        return given.model_copy(update={"doubt": reason})

    def _low(self, given: Given, sure: float) -> Given:
        if given.doubt is not None or sure >= self.acceptance.value_kept:
            return given
        return given.model_copy(update={"doubt": DoubtReason.LOW_CONFIDENCE})

    def _unusual(self, entry: Entry) -> Entry:
        slot = self._slot(entry) if isinstance(entry, Given) else None
        if not isinstance(entry, Given) or slot is None or entry.doubt is not None or is_usual(entry.value, slot):
            return entry
        return entry.model_copy(update={"doubt": DoubtReason.UNUSUAL})

    def _slot(self, given: Given) -> ExpectedSlot | None:
        slots = (*self.expectation.slots, *self.expectation.known)
        return next((slot for slot in slots if slot.name == given.slot), None)

    # ---- other readings

    def _others(self, given: Given, number: int, count: int, reread: Rereads) -> Iterator[Value]:
        """Values that other texts of the recogniser give in the same place."""
        for text in islice(self.utterance.alternatives, self.acceptance.alternatives):
            entries = reread(text)
            if len(entries) == count:
                yield from other_values(given, entries[number])

    def _alike(self, given: Given, number: int, reread: Rereads) -> Iterator[Value]:
        """Values that sound alike: one word of this value changed for its partner."""
        for text in islice(self._swapped(given.said), MOST_SWAPS):
            entries = reread(text)
            if number < len(entries):
                yield from other_values(given, entries[number])

    def _other_row(self, given: Given, number: int, reread: Rereads) -> Given | None:
        """The same value for a row whose number sounds alike; the row that is asked for needs no such question."""
        for text in islice(self._swapped(given.said), MOST_SWAPS):
            entries = reread(text)
            entry = entries[number] if number < len(entries) else None
            if isinstance(entry, Given) and entry.value == given.value and entry.row != given.row:
                return entry
        return None

    def _bare_scale(self, given: Given, number: int, reread: Rereads) -> bool:
        """Whether a hundred stands right behind the row: how many hundreds may be a word that was lost."""
        text = self.utterance.text
        begin, end = span(text, given.said)
        for token in self.tokens:
            if token.key in self.scales and begin < token.start and token.end <= end:
                entries = reread(f"{text[: token.start]}{self.one} {text[token.start :]}")
                if any(_is_same(given, entry) for entry in entries[number : number + 1]):
                    return True
        return False

    def _swapped(self, said: str) -> Iterator[str]:
        text = self.utterance.text
        begin, end = span(text, said)
        for token in self.tokens:
            if begin <= token.start and token.end <= end:
                for partner in self.partners.get(token.key, ()):
                    yield text[: token.start] + partner + text[token.end :]

    def _disputed_rows(self, entries: tuple[Entry, ...], reread: Rereads) -> Either | None:
        """The recogniser itself is torn between rows: both readings go to the operator."""
        if not self.acceptance.value_heard <= self.utterance.confidence < self.acceptance.value_kept:
            return None
        first = all_given(entries)
        for text in islice(self.utterance.alternatives, self.acceptance.alternatives):
            other = all_given(reread(text))
            if (
                first
                and other
                and [one.row for one in first] != [one.row for one in other]
                and self._vies(other, first)
            ):
                return Either(readings=(first, other), alike=True)
        return None

    def _vies(self, other: tuple[Given, ...], first: tuple[Given, ...]) -> bool:
        """Whether another reading may be meant: no row twice, and not unusual where the first one is usual."""
        twice = len({(one.slot, one.row) for one in other}) < len(other)
        unusual = all(map(self._is_usual, first)) and not any(map(self._is_usual, other))
        return not twice and not unusual

    def _is_usual(self, given: Given) -> bool:
        slot = self._slot(given)
        return slot is not None and is_usual(given.value, slot)

    # ---- confidence

    def _certainty(self, said: str) -> float:
        """The confidence of the least certain word in a piece of the text."""
        if self.certain is None:
            return self.utterance.confidence
        begin, end = span(self.utterance.text, said)
        inside = (
            sure
            for token, sure in zip(self.tokens, self.certain, strict=True)
            if begin <= token.start and token.end <= end
        )
        return min(inside, default=self.utterance.confidence)


def with_rest(entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """The entries, where what is said of the rest counts only if it is clear which the others are.

    Beside something unclear it is left out, beside a report in doubt it is asked together with that.
    """
    if not any(_is_rest(entry) for entry in entries):
        return entries
    if any(isinstance(entry, Unclear) for entry in entries):
        return tuple(entry for entry in entries if not _is_rest(entry))
    doubts = {entry.doubt for entry in entries if isinstance(entry, Reported)}
    if doubts == {None}:
        return entries
    doubt = {"doubt": DoubtReason.LOW_CONFIDENCE}
    return tuple(entry.model_copy(update=doubt) if isinstance(entry, Reported) else entry for entry in entries)


def _is_rest(entry: Entry) -> bool:
    return isinstance(entry, Reported) and (entry.rest or (entry.report is Report.GOOD and not entry.rows))


_WORDS_ONLY = frozenset({SlotKind.TEXT, SlotKind.DIAL, SlotKind.CHOICE})


def _is_same(given: Given, entry: Entry) -> bool:
    return isinstance(entry, Given) and (entry.slot, entry.row, entry.value) == (given.slot, given.row, given.value)


def _confidences(utterance: Utterance, tokens: tuple[Token, ...]) -> list[float] | None:
    """One confidence for each token; None where the recogniser's words are not the words of the text."""
    heard = [(token.key, word.confidence) for word in utterance.words for token in tokenize(word.text)]
    if [key for key, _ in heard] != [token.key for token in tokens]:
        return None
    return [sure for _, sure in heard]
