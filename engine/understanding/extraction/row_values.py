"""Values of rows in a sentence: which amount is said of which rows."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TypeAlias

from engine.entries.matching.row_numbers import numerals
from engine.entries.matching.slot_fit import Place, fits_usually
from engine.expectation import ExpectedSlot
from engine.messages import Entry
from engine.quantities import Dimension, Measure
from engine.understanding.extraction.row_pairing import Pair, paired
from engine.understanding.extraction.slot_values import NOTHING, FoundValues, Slots, SlotValues
from engine.understanding.scanning.spans import SpanKind, TextSpan, is_number, named_rows

MOST_BETWEEN = 3
"""Words from a part to the bag that it is of: "half of a 50 lb bag"."""

PlacedValue: TypeAlias = tuple[TextSpan, tuple[int, ...], bool]
"""A value, the rows it is of, and whether those are plain."""


class RowValues(SlotValues):
    """Finds the values of rows in one sentence."""

    def _per_row(self, slots: Slots, rowed: ExpectedSlot) -> FoundValues:
        rows = len(self.hearing.every_row)
        if self._nothing_came(rows):
            return self._empty(rowed)
        others = [one for one in slots if not one[0].per_row]
        known = next(known for slot, known in slots if slot is rowed)

        fitting = [span for span in self.told.spans if self._is_of_row(span, rowed)]
        usual = [span for span in fitting if rowed.usual and span.amount and fits_usually(span.amount, rowed)]

        def is_value(span: TextSpan) -> bool:
            return span in fitting and (span in usual or not usual or not span.is_one_of(rows))

        entries: list[Entry] = []
        left = []
        for span in self.told.spans:
            place = next((one for one in others if self._fits(one[0], span, first=False)), None)
            if place is not None and not is_value(span):
                entries.append(self._given(place[0], None, span, place[1]))
            else:
                left.append(span)
        pairing = paired(left, is_value, self.hearing.loose.on_words, rows)
        pairs = pairing.pairs
        used = {id(span) for pair in pairs for span in pair.spans}
        stray = any(span.is_value and id(span) not in used for span in left)
        bare = [pair for pair in pairs if pair.bare]
        if slots[0] in others and len(bare) == 1 and not entries and self._fits(slots[0][0], bare[0].value, first=True):
            entries.append(self._given(slots[0][0], None, bare[0].value, known=False))
            pairs = [pair for pair in pairs if pair not in bare]
        if (same := self._same_as(rowed)) is not None:
            return same
        placed = self._placed(pairs, rowed) if pairs else []
        if placed is None or not (placed or entries):
            return self._empty(rowed)
        if any(row not in self.hearing.every_row for _, rows_of, _ in placed for row in rows_of):
            return NOTHING
        entries += [self._given(rowed, row, span, known) for span, rows_of, _ in placed for row in rows_of]
        together = self.hearing.says(self.hearing.vocabulary.together)
        odd = stray or together or bool(pairing.lost) or self._is_part_of_bag()
        plain = not odd and all(plain for *_, plain in placed)
        return FoundValues(tuple(entries), plain and not self._strange([pair.value for pair in pairing.pairs]))

    def _is_part_of_bag(self) -> bool:
        """Whether a part of a bag is told, whose weight may be that of the whole one: "half a bag of 50"."""
        tokens, bags = self.hearing.tokens, self.hearing.loose.bags
        parts = (one.end for place in range(len(tokens)) for one in self.hearing.matcher.rule("fraction", place))
        return any(token.key in bags for end in parts for token in tokens[end : end + MOST_BETWEEN])

    def _nothing_came(self, rows: int) -> bool:
        """Whether it is said that nothing came, and no number stands beside it but rows and zero."""
        values = (span for span in self.told.spans if span.is_value)
        only = all(span.is_one_of(rows) or _is_zero(span) for span in values)
        return only and self.hearing.says(self.hearing.loose.no_catch)

    def _same_as(self, slot: ExpectedSlot) -> FoundValues | None:
        """The value of another row once more: "same as 7"."""
        hearing, places = self.hearing, range(len(self.hearing.tokens))
        found = ((place, match) for place in places for match in hearing.find(hearing.loose.same_as, place))
        said = ((place, match.end, int(one.value)) for place, match in found for one in numerals(match.captures))
        place, end, row = max((one for one in said if one[2] in slot.told), default=(0, 0, 0))
        value = slot.told.get(row)
        inside = [span for span in self.told.spans if span.start < place or span.start >= end]
        others = [span for span in inside if span.is_value or span.kind is SpanKind.ROWS]
        rows = tuple(one for span in others for one in span.named)
        rows = rows or ((slot.next_row,) if slot.next_row is not None else ())
        if value is None or not rows or not set(rows) <= set(self.hearing.every_row) or row in rows:
            return None
        text = self.hearing.text.strip()[:60]
        return FoundValues(tuple(Place(slot, one, text).given(value) for one in rows), plain=len(rows) == 1)

    def _empty(self, slot: ExpectedSlot) -> FoundValues:
        """Rows of which nothing came, where that can be weighed."""
        rows = [row for span in named_rows(self.told.spans) for row in span.rows] if not self.told.correcting else []
        rows += [span.row for span in self.told.spans if span.row is not None]
        nothing = self.hearing.says(self.hearing.loose.no_catch) and slot.default_unit is not None
        if not nothing or Dimension.MASS not in slot.dimensions or not set(rows) <= set(self.hearing.every_row):
            return NOTHING
        value = Measure(value=0.0, unit=slot.default_unit or "g")
        text = self.hearing.text.strip()[:60]
        found = [Place(slot, row, text).given(value) for row in rows or slot.asked_rows]
        return FoundValues(tuple(found), plain=True)

    def _placed(self, pairs: Sequence[Pair], slot: ExpectedSlot) -> list[PlacedValue] | None:
        """Each value with its rows, and whether those are plain; None where nobody can tell."""
        bare = [pair for pair in pairs if pair.bare]
        told = _without_exceptions([(pair.value, self._rows_of(pair, slot), True) for pair in pairs if not pair.bare])
        named = {row for _, rows, _ in told for row in rows}
        if not bare:
            return told
        first, spans = bare[0], self.told.spans
        if len(bare) == 1 and not told:
            return [(first.value, *self._asked_rows(slot))]
        but = next((span for span in spans if span.key == "<all-but>"), None)
        if len(bare) == 1 and but is not None and first is pairs[-1]:
            return [*told, (first.value, self._every_but(but.rows), True)]
        if len(bare) == 1 and first is pairs[0]:
            if any(span.key in self.hearing.loose.except_words for span in spans):
                return [(first.value, self._every_but(named), True), *told]
            if slot.next_row is not None and slot.next_row not in named:
                return [(first.value, (slot.next_row,), True), *told]
        listed = [span for span in spans if span.kind is SpanKind.ROWS and len(span.rows) == len(bare)]
        if not told and len(listed) == 1:
            return [(pair.value, (row,), True) for pair, row in zip(bare, listed[0].rows, strict=True)]
        open_rows = [row for row in slot.open_rows if row not in named]
        if told or len(bare) > len(open_rows):
            return None
        whole = len(bare) == len(open_rows)
        return [(pair.value, (row,), whole) for pair, row in zip(bare, open_rows, strict=False)]

    def _every_but(self, rows: Collection[int]) -> tuple[int, ...]:
        return tuple(row for row in self.hearing.every_row if row not in rows)

    def _asked_rows(self, slot: ExpectedSlot) -> tuple[tuple[int, ...], bool]:
        """The rows of a value that names none: all where "each" is said, what was corrected, or what is asked."""
        latest = self._latest
        if self.hearing.says(self.hearing.vocabulary.each):
            return (slot.open_rows or self.hearing.every_row), True
        if self.told.correcting and latest is not None and latest.slot == slot.name and latest.row is not None:
            before = slot.told.get(latest.row)
            same = any(isinstance(before, Measure) and is_number(one, before.value) for one in self.told.dropped)
            return (latest.row,), same or not self.told.mended
        return slot.asked_rows, bool(slot.asked_rows)

    def _rows_of(self, pair: Pair, slot: ExpectedSlot) -> tuple[int, ...]:
        if pair.every and not pair.rest:
            return self.hearing.every_row
        return tuple(slot.open_rows) if pair.rest else pair.rows


def _without_exceptions(told: Sequence[PlacedValue]) -> list[PlacedValue]:
    """What is said of fewer rows goes before what is said of more."""
    left = []
    for span, rows, plain in told:
        fewer = {row for _, some, _ in told if len(some) < len(rows) for row in some}
        left.append((span, tuple(row for row in rows if row not in fewer), plain))
    return left


def _is_zero(span: TextSpan) -> bool:
    return span.amount is not None and all(numeral.value == 0 for numeral, _ in span.amount.parts)
