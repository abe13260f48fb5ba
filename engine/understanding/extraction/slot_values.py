"""Which slots the amounts of a sentence may be for, and whether an amount is plainly one of a slot."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from engine.entries.matching.match_context import Amount, MatchContext
from engine.entries.matching.slot_fit import Place, fit, fits
from engine.expectation import Asking, ExpectedSlot, Latest, SlotKind
from engine.messages import Entry, UnclearReason
from engine.understanding.scanning.spans import SpanKind, TextSpan, in_terms_of
from engine.understanding.weighing.clauses import pieces
from engine.understanding.weighing.meaning import NUMBERED
from engine.understanding.weighing.repair import Repaired

SHORT = 3
"""A word so short behind a number may abbreviate a unit."""


@dataclass(frozen=True)
class FoundValues:
    """Entries with whether they are plainly what was said: nothing left over, nothing added; ``spans`` tell them,
    where not all amounts of the sentence do."""

    entries: tuple[Entry, ...] = ()
    plain: bool = False
    spans: tuple[TextSpan, ...] = ()


NOTHING = FoundValues()
Slots: TypeAlias = Sequence[tuple[ExpectedSlot, bool]]
"""The slots a value may be for, likeliest first, with whether each was known before."""


class SlotValues:
    """One sentence with the slots that its amounts may be for."""

    def __init__(self, hearing: MatchContext, told: Repaired, knows: Callable[[str], bool]) -> None:
        self.hearing = hearing
        self.knows = knows
        self.told = told
        self.expectation = hearing.expectation

    @property
    def _latest(self) -> Latest | None:
        """Where the last value was kept, which is taken back; a value in doubt stands nowhere yet."""
        return None if self.expectation.asking is Asking.CONFIRM else self.expectation.latest

    def _slots(self) -> Slots:
        """The slots a value may be for; of those known before only what is named or put right."""
        named = self._named()
        latest = self._latest
        slots = [(slot, False) for slot in (*self.expectation.slots, *self.expectation.anywhere)]
        known = [(slot, True) for slot in self.expectation.known if slot.kind is not SlotKind.TEXT]
        if named:
            first = [one for one in (*slots, *known) if one[0].name in named]
            return [*first, *(one for one in slots if one not in first)]
        if latest is not None and slots and self._puts_right() and slots[0][0].kind not in NUMBERED:
            before = [one for one in known if one[0].name == latest.slot]
            return [*before, *slots]
        if self.told.correcting and latest is not None:
            corrected = [one for one in (*slots, *known) if one[0].name == latest.slot]
            return [*corrected, *(one for one in slots if one not in corrected)]
        return slots

    def _puts_right(self) -> bool:
        return self._takes_back() or self.hearing.says(self.hearing.vocabulary.past)

    def _takes_back(self) -> bool:
        """Whether it is said that something told before is not so."""
        return self.told.takes_back or self.hearing.says((*self.hearing.loose.repairs, *self.hearing.loose.wrong))

    def _of_rows(self, slots: Slots) -> Slots:
        """What was told of rows before goes first where rows are named and nothing is asked of rows: "row 2 got 25"."""
        named = any(span.kind is SpanKind.ROWS and not (span.every or span.rest) for span in self.told.spans)
        if not named or any(slot.per_row for slot, _ in slots):
            return slots
        values = [span for span in self.told.spans if span.is_value]
        before = [slot for slot in self.expectation.known if slot.per_row]
        fitting = [slot for slot in before if any(self._is_of_row(span, slot) for span in values)]
        return [*((slot, True) for slot in fitting[-1:]), *slots]

    def _named(self) -> set[str]:
        """The slots that are named; what only mentions one does so where something is put right."""
        mentions = self.hearing.loose.mentions
        first = self.expectation.slots[:1]
        later = {slot.name for slot in self.expectation.anywhere if first and first[0].kind not in NUMBERED}
        here = {slot.name for slot in (*self.hearing.slots, *self.expectation.anywhere)}
        mentioned = {slot for slot, phrases in mentions.items() if slot in here and self.hearing.says(phrases)}
        mentioned = mentioned if self._puts_right() else mentioned & later
        near = [span for part in pieces(self.told.spans) if any(one.is_value for one in part) for span in part]
        words = (span for span in near if span.kind in (SpanKind.WORD, SpanKind.JOIN))
        matches = (match for span in words for match in self.hearing.matcher.rule("name", span.start))
        return mentioned | {str(value) for match in matches for _, value in match.captures}

    def _fits(self, slot: ExpectedSlot, span: TextSpan, first: bool) -> bool:
        if span.amount is None or (span.kind is SpanKind.NUMBER and not first) or self._is_said_of_rows(slot):
            return False
        return fits(self._amount(span, slot), slot)

    def _is_said_of_rows(self, slot: ExpectedSlot) -> bool:
        """Whether rows are named in a sentence, so that nothing in it is for a later question about no row."""
        expected = self.expectation
        counts = any(one.kind is SlotKind.COUNT for one in expected.slots[:1])
        by_row = not counts or any(one.per_row for one in (*expected.slots, *expected.anywhere, *expected.known))
        rows = by_row and any(span.kind is SpanKind.ROWS for span in self.told.spans)
        return rows and not slot.per_row and slot in self.expectation.anywhere

    def _amount(self, span: TextSpan, slot: ExpectedSlot) -> Amount:
        """The amount in the slot's own terms."""
        assert span.amount is not None
        plural = [unit for _, unit in span.amount.parts] == ["s"]
        if slot in self.expectation.anywhere and not plural:
            return span.amount
        return in_terms_of(span.amount, slot.dimensions, filter(None, (slot.default_unit, *slot.units)))

    def _given(self, slot: ExpectedSlot, row: int | None, span: TextSpan, known: bool) -> Entry:
        told_before = row is not None and slot.per_row and row not in slot.open_rows
        taken_back = told_before and self._takes_back()
        latest = self._latest is not None and (self._latest.slot, self._latest.row) == (slot.name, row)
        correcting = known or taken_back or (self.told.correcting and latest)
        place = Place(slot, row, self.hearing.said(span.start, span.end), correcting)
        entry = fit(self._amount(span, slot), place)
        return entry if entry is not None else place.unclear(UnclearReason.WRONG_UNIT)

    def _strange(self, values: Sequence[TextSpan]) -> bool:
        """Whether a word that nobody knows stands right behind a bare number: it may be its unit."""
        ends = {span.end for span in values if span.kind is SpanKind.NUMBER}
        after = [self.hearing.tokens[end] for end in ends if end < len(self.hearing.tokens)]
        words = {token.key for token in after if not (token.is_break or token.is_number)}
        unknown = words - self.hearing.vocabulary.plain_words
        strange = any(len(word) <= SHORT or not self.knows(word) for word in unknown)
        strange = strange or not words.isdisjoint(self.hearing.loose.other_units)
        return strange or (bool(ends) and self._unknown_words()) or self._stray_unit()

    def _unknown_words(self) -> bool:
        """Whether a word that nobody knows stands anywhere beside a bare number, which may belong to it: "Terravel 15"
        is the name of a product, no matter what was asked."""
        plain = self.hearing.vocabulary.plain_words
        words = [token.key for token in self.hearing.tokens if token.key.isalpha()]
        return any(word not in plain and not self.knows(word) for word in words)

    def _stray_unit(self) -> bool:
        """Whether a unit stands somewhere without its number: "the display is in kilometers, eight an hour"."""
        known = [span for span in self.told.spans if span.kind in (SpanKind.AMOUNT, SpanKind.ROWS)]
        taken = {place for span in (*known, *self.told.dropped) for place in range(span.start, span.end)}
        weak = self.hearing.loose.weak_units
        return any(
            place not in taken and token.key not in weak and len(token.key) > 1 and bool(self.hearing.units_at(place))
            for place, token in enumerate(self.hearing.tokens)
        )

    def _is_of_row(self, span: TextSpan, slot: ExpectedSlot) -> bool:
        return span.is_value and span.amount is not None and fits(span.amount, slot)
