"""Whether a value was heard well enough to keep, and what else it may have been."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from engine.entries.acceptance import Acceptance
from engine.entries.confusions import Rereads, VoiceDoubt, all_given, is_other, other_values, scales, sound_alikes, span
from engine.entries.matching.numerals import spell
from engine.entries.matching.slot_fit import is_usual
from engine.entries.phrases.tokens import Token, tokenize
from engine.entries.phrases.vocabulary import Vocabulary
from engine.expectation import CLOSED, Expectation, SlotKind
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
    """The doubts about one utterance; ``reread`` reads another text in its place."""

    def __init__(
        self,
        utterance: Utterance,
        expectation: Expectation,
        vocabulary: Vocabulary,
        acceptance: Acceptance,
        reread: Rereads,
    ) -> None:
        self.utterance = utterance
        self.expectation = expectation
        self.acceptance = acceptance
        self.reread = reread
        self.own = VoiceDoubt(utterance, expectation, reread)
        self.tokens = tokenize(utterance.text)
        self.certain = _confidences(utterance, self.tokens)
        self.partners = sound_alikes(vocabulary)
        self.scales = scales(vocabulary)
        self.one = spell(1, vocabulary.language)

    def about(self, entries: tuple[Entry, ...]) -> tuple[Entry, ...]:
        """The same entries with their doubts; what was heard too badly becomes unclear."""
        entries = tuple(map(self._likeliest_first, entries))
        if not self.utterance.spoken:
            return with_rest(tuple(map(self._unusual, entries)))
        disputed = self._disputed_rows(entries) or self.own.rows(entries)
        if disputed is not None:
            return (disputed,)
        return with_rest(tuple(self._heard(entry, number, entries) for number, entry in enumerate(entries)))

    def _likeliest_first(self, entry: Entry) -> Entry:
        """A doubtful value that is unusual gives way to a rival that is not."""
        slot = self.expectation.slot(entry.slot) if isinstance(entry, Given) and entry.rivals else None
        if not isinstance(entry, Given) or slot is None:
            return entry
        values = sorted((entry.value, *entry.rivals), key=lambda value: not is_usual(value, slot))
        return entry.model_copy(update={"value": values[0], "rivals": tuple(values[1:])})

    def _heard(self, entry: Entry, number: int, entries: tuple[Entry, ...]) -> Entry:
        match entry:
            case Answered(yes=True):
                return self._or_unclear(entry, self.acceptance.yes_kept, entries)
            case Answered() | Chosen():
                return self._or_unclear(entry, self.acceptance.answer_kept, entries)
            case Commanded() | LeavingOut() | Repairing() | Opened() | Asked() | Correcting():
                return self._or_unclear(entry, self.acceptance.command_kept, entries)
            case Reported():
                return self._report(entry, number)
            case Given():
                return self._value(entry, number, entries)
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

    def _report(self, report: Reported, number: int) -> Entry:
        """A report is taken only when it was heard as well as its rows and numbers need, and asked somewhat below."""
        alike = any(is_other(report, entries[number : number + 1]) for entries in self._swapped(report.said))
        needed = self.acceptance.sound_alike_kept if alike else self.acceptance.command_kept
        sure = self._certainty(report.said)
        if sure >= needed and not self.own.report(report, number):
            return report
        if sure >= self.acceptance.report_heard:
            return report.model_copy(update={"doubt": DoubtReason.LOW_CONFIDENCE})
        return Unclear(reason=self._badly_heard, said=report.said)

    def _value(self, given: Given, number: int, entries: tuple[Entry, ...]) -> Entry:
        count, sure = len(entries), self._certainty(given.said)
        slot = self.expectation.slot(given.slot)
        if sure < self.acceptance.value_heard:
            return Unclear(reason=self._badly_heard, said=given.said, slot=given.slot, row=given.row)
        if own := self.own.values(given, number):
            return self._doubtful(given, tuple(dict.fromkeys((*own, *self._others(given, number, count)))))
        if slot is None or given.doubt is not None or slot.kind in _WORDS_ONLY:
            low = given.doubt is None and sure < self.acceptance.value_kept
            return given.model_copy(update={"doubt": DoubtReason.LOW_CONFIDENCE}) if low else given
        if self._bare_scale(given, number):
            return self._doubtful(given, ())
        alone = sum(isinstance(entry, Given) and entry.said == given.said for entry in entries) == 1
        if alone and sure < self.acceptance.sound_alike_kept and given.row != slot.next_row:
            other = self._other_row(given, number)
            if other is not None:
                return Either(readings=((given,), (other,)), alike=True)
        usual = is_usual(given.value, slot)
        if not usual and self.expectation.asking in CLOSED:
            return Unclear(reason=self._badly_heard, said=given.said)
        alike = tuple(value for value in self._alike(given, number) if is_usual(value, slot) or not usual)
        expected = usual and slot.usual is not None
        if self.acceptance.decide(sure, bool(alike), expected) is Decision.KEEP and (usual or not alike):
            return self._unusual(given)
        others = dict.fromkeys((*self._others(given, number, count), *alike))
        rivals = tuple(value for value in others if usual or is_usual(value, slot))
        return self._likeliest_first(self._doubtful(given, rivals))

    def _doubtful(self, given: Given, rivals: tuple[Value, ...]) -> Given:
        """Barely heard, or doubtful between values, else for what was heard too badly or is unusual."""
        if self._certainty(given.said) < self.acceptance.repeat_kept:
            return given.model_copy(update={"doubt": DoubtReason.BARELY_HEARD, "rivals": rivals})
        if rivals:
            return given.model_copy(update={"doubt": DoubtReason.SOUND_ALIKE, "rivals": rivals})
        reason = DoubtReason.UNUSUAL if self._is_unusual(given) else DoubtReason.LOW_CONFIDENCE
        return given.model_copy(update={"doubt": reason})

    def _unusual(self, entry: Entry) -> Entry:
        if not isinstance(entry, Given) or entry.doubt is not None or not self._is_unusual(entry):
            return entry
        return entry.model_copy(update={"doubt": DoubtReason.UNUSUAL})

    def _is_unusual(self, given: Given) -> bool:
        slot = self.expectation.slot(given.slot)
        return slot is not None and not is_usual(given.value, slot)

    # ---- other readings

    def _others(self, given: Given, number: int, count: int) -> Iterator[Value]:
        """Values that other texts of the recogniser give in the same place."""
        for entries in self._alternatives():
            if len(entries) == count:
                yield from other_values(given, entries[number])

    def _alike(self, given: Given, number: int) -> Iterator[Value]:
        """Values that sound alike: one word of this value changed for its partner."""
        for entries in self._swapped(given.said):
            if number < len(entries):
                yield from other_values(given, entries[number])

    def _other_row(self, given: Given, number: int) -> Given | None:
        """The same value for a row whose number sounds alike; the row that is asked for needs no such question."""
        for entries in self._swapped(given.said):
            entry = entries[number] if number < len(entries) else None
            if isinstance(entry, Given) and entry.value == given.value and entry.row != given.row:
                return entry
        return None

    def _bare_scale(self, given: Given, number: int) -> bool:
        """Whether a hundred stands right behind the row: how many hundreds may be a word that was lost."""
        text = self.utterance.text
        begin, end = span(text, given.said)
        for token in self.tokens:
            if token.key in self.scales and begin < token.start and token.end <= end:
                entries = self.reread(f"{text[: token.start]}{self.one} {text[token.start :]}")
                given_too = (one for one in entries[number : number + 1] if isinstance(one, Given))
                if any((one.slot, one.row, one.value) == (given.slot, given.row, given.value) for one in given_too):
                    return True
        return False

    def _alternatives(self) -> Iterator[tuple[Entry, ...]]:
        """What the other texts of the recogniser mean."""
        return map(self.reread, islice(self.utterance.alternatives, self.acceptance.alternatives))

    def _swapped(self, said: str) -> Iterator[tuple[Entry, ...]]:
        """What the text means with one word of a piece of it changed for one that sounds alike."""
        text = self.utterance.text
        begin, end = span(text, said)
        inside = (token for token in self.tokens if begin <= token.start and token.end <= end)
        pairs = ((token, partner) for token in inside for partner in self.partners.get(token.key, ()))
        swapped = (text[: token.start] + partner + text[token.end :] for token, partner in pairs)
        return map(self.reread, islice(swapped, MOST_SWAPS))

    def _disputed_rows(self, entries: tuple[Entry, ...]) -> Either | None:
        """The recogniser itself is torn between rows: both readings go to the operator."""
        first = all_given(entries)
        torn = self.acceptance.value_heard <= self.utterance.confidence < self.acceptance.value_kept
        for other in map(all_given, self._alternatives() if torn and first else ()):
            if other and [one.row for one in first] != [one.row for one in other] and self._vies(other, first):
                return Either(readings=(first, other), alike=True)
        return None

    def _vies(self, other: tuple[Given, ...], first: tuple[Given, ...]) -> bool:
        """Whether another reading may be meant: no row twice, and not unusual where the first one is usual."""
        twice = len({(one.slot, one.row) for one in other}) < len(other)
        unusual = all(map(self._is_usual, first)) and not any(map(self._is_usual, other))
        return not twice and not unusual

    def _is_usual(self, given: Given) -> bool:
        return self.expectation.slot(given.slot) is not None and not self._is_unusual(given)

    # ---- confidence

    def _certainty(self, said: str) -> float:
        """The confidence of the least certain word in a piece of the text."""
        begin, end = span(self.utterance.text, said)
        heard = zip(self.tokens, self.certain or (), strict=False)
        inside = (sure for token, sure in heard if begin <= token.start and token.end <= end)
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


def _confidences(utterance: Utterance, tokens: tuple[Token, ...]) -> list[float] | None:
    """One confidence for each token; None where the recogniser's words are not the words of the text."""
    heard = [(token.key, word.confidence) for word in utterance.words for token in tokenize(word.text)]
    if [key for key, _ in heard] != [token.key for token in tokens]:
        return None
    return [sure for _, sure in heard]
