"""Values of rows in a sentence: which amount is said of which rows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from engine.entries.matching.row_numbers import numerals
from engine.entries.matching.slot_fit import Place, fit, is_usual
from engine.expectation import ExpectedSlot
from engine.messages import Entry, Given
from engine.quantities import Dimension, Measure
from engine.understanding.extraction.row_pairing import Pair, paired
from engine.understanding.extraction.slot_values import NOTHING, FoundValues, SlotValues
from engine.understanding.scanning.spans import SpanKind, TextSpan, is_number, named_rows

MOST_BETWEEN = 3
"""Words from a part to the bag that it is of: "half of a 50 lb bag"."""
MOST_IN_ORDER = 2
"""A list of as many numbers or more may be the rows that are open, in their order."""


class RowValues(SlotValues):
    """Finds the values of rows in one sentence."""

    def _per_row(self, slots: Sequence[tuple[ExpectedSlot, bool]], rowed: ExpectedSlot) -> FoundValues:
        rows = len(self.hearing.every_row)
        if self._nothing_came(rows):
            return self._empty(rowed)
        others = [one for one in slots if not one[0].per_row]
        known = next(known for slot, known in slots if slot is rowed)

        fitting = [span for span in self.told.spans if self._is_of_row(span, rowed)]
        usual = [span for span in fitting if self._is_usual(span, rowed)]

        def is_value(span: TextSpan) -> bool:
            return span in fitting and (span in usual or not usual or span.row is None or span.row > rows)

        entries: list[Entry] = []
        left = []
        for span in self.told.spans:
            place = next((one for one in others if self._fits(one[0], span, first=False)), None)
            if place is not None and not is_value(span):
                entries.append(self._given(place[0], None, span, place[1]))
            else:
                left.append(span)
        pairing = paired(left, is_value, self.hearing.vocabulary.loose.on_words, rows)
        used = {id(span) for pair in pairing.pairs for span in pair.spans}
        stray = [span for span in left if span.is_value and id(span) not in used]
        pairs = pairing.pairs
        bare = [pair for pair in pairs if not (pair.rows or pair.every or pair.rest)]
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
        for span, rows_of, _ in placed:
            entries += [self._given(rowed, row, span, known) for row in rows_of]
        together = self.hearing.says(self.hearing.vocabulary.together)
        plain = not stray and not together and not pairing.lost and all(plain for *_, plain in placed)
        plain = plain and not self._is_part_of_bag()
        return FoundValues(tuple(entries), plain and not self._strange([pair.value for pair in pairing.pairs]))

    def _is_part_of_bag(self) -> bool:
        """Whether a part of a bag is told, whose weight may be that of the whole one: "half a bag of 50"."""
        tokens, bags = self.hearing.tokens, self.hearing.vocabulary.loose.bags
        parts = (one.end for place in range(len(tokens)) for one in self.hearing.matcher.rule("fraction", place))
        return any(token.key in bags for end in parts for token in tokens[end : end + MOST_BETWEEN])

    def _nothing_came(self, rows: int) -> bool:
        """Whether it is said that nothing came, and no number stands beside it but rows and zero."""
        values = [span for span in self.told.spans if span.is_value]
        only = all(span.row is not None and span.row <= rows for span in values if not _is_zero(span))
        return only and self.hearing.says(self.hearing.vocabulary.loose.no_catch)

    def _same_as(self, slot: ExpectedSlot) -> FoundValues | None:
        """The value of another row once more: "same as 7"."""
        said = [
            (place, match.end, row)
            for place in range(len(self.hearing.tokens))
            for match in self.hearing.find(self.hearing.vocabulary.loose.same_as, place)
            for row in (int(one.value) for one in numerals(match.captures))
            if row in slot.told
        ]
        place, end, row = max(said, default=(0, 0, 0))
        value = slot.told.get(row)
        inside = [span for span in self.told.spans if span.start < place or span.start >= end]
        others = [span for span in inside if span.is_value or span.kind is SpanKind.ROWS]
        rows = tuple(one for span in others for one in (span.rows or ((span.row,) if span.row else ())))
        rows = rows or ((slot.next_row,) if slot.next_row is not None else ())
        if value is None or not rows or not set(rows) <= set(self.hearing.every_row) or row in rows:
            return None
        text = self.hearing.text.strip()[:60]
        return FoundValues(tuple(Place(slot, one, text).given(value) for one in rows), plain=len(rows) == 1)

    def _empty(self, slot: ExpectedSlot) -> FoundValues:
        """Rows of which nothing came, where that can be weighed."""
        rows = [row for span in named_rows(self.told.spans) for row in span.rows] if not self.told.correcting else []
        rows += [span.row for span in self.told.spans if span.row is not None]
        nothing = self.hearing.says(self.hearing.vocabulary.loose.no_catch) and slot.default_unit is not None
        if not nothing or Dimension.MASS not in slot.dimensions or not set(rows) <= set(self.hearing.every_row):
            return NOTHING
        value = Measure(value=0.0, unit=slot.default_unit or "g")
        text = self.hearing.text.strip()[:60]
        found = [Place(slot, row, text).given(value) for row in rows or slot.next_rows or (slot.next_row,) if row]
        return FoundValues(tuple(found), plain=True)

    def _is_usual(self, span: TextSpan, slot: ExpectedSlot) -> bool:
        given = fit(span.amount, Place(slot, 1, "")) if span.amount is not None else None
        return isinstance(given, Given) and slot.usual is not None and is_usual(given.value, slot)

    def _placed(self, pairs: Sequence[Pair], slot: ExpectedSlot) -> list[tuple[TextSpan, tuple[int, ...], bool]] | None:
        """Each value with its rows, and whether those are plain; None where nobody can tell."""
        bare = [pair for pair in pairs if not (pair.rows or pair.every or pair.rest)]
        told = [(pair.value, self._rows_of(pair, slot), True) for pair in pairs if pair not in bare]
        named = {row for _, rows, _ in told for row in rows}
        if not bare:
            return [*self._without_exceptions(told)]
        if len(bare) == 1 and not told:
            return [(bare[0].value, *self._asked_rows(slot))]
        open_rows = [row for row in slot.open_rows if row not in named]
        but = next((span for span in self.told.spans if span.key == "<all-but>"), None)
        if len(bare) == 1 and but is not None and told and bare[0] is pairs[-1]:
            excepted = tuple(row for row in self.hearing.every_row if row not in but.rows)
            return [*self._without_exceptions(told), (bare[0].value, excepted, True)]
        if (
            len(bare) == 1
            and bare[0] is pairs[0]
            and any(span.key in self.hearing.vocabulary.loose.except_words for span in self.told.spans)
        ):
            others = tuple(row for row in self.hearing.every_row if row not in named)
            return [(bare[0].value, others, True), *self._without_exceptions(told)]
        if len(bare) == 1 and bare[0] is pairs[0] and slot.next_row is not None and slot.next_row not in named:
            return [(bare[0].value, (slot.next_row,), True), *self._without_exceptions(told)]
        listed = [span for span in self.told.spans if span.kind is SpanKind.ROWS and len(span.rows) == len(bare)]
        if not told and len(bare) > 1 and len(listed) == 1:
            return [(pair.value, (row,), True) for pair, row in zip(bare, listed[0].rows, strict=True)]
        if told or len(bare) < MOST_IN_ORDER or len(bare) > len(open_rows):
            return None
        whole = len(bare) == len(open_rows)
        return [(pair.value, (row,), whole) for pair, row in zip(bare, open_rows, strict=False)]

    def _asked_rows(self, slot: ExpectedSlot) -> tuple[tuple[int, ...], bool]:
        """The rows of a value that names none: all where "each" is said, what was corrected, or what is asked."""
        latest = self._latest
        if self.hearing.says(self.hearing.vocabulary.each):
            return (slot.open_rows or self.hearing.every_row), True
        if self.told.correcting and latest is not None and latest.slot == slot.name and latest.row is not None:
            before = slot.told.get(latest.row)
            same = any(isinstance(before, Measure) and is_number(one, before.value) for one in self.told.dropped)
            return (latest.row,), same or not self.told.mended
        rows = slot.next_rows or ((slot.next_row,) if slot.next_row is not None else ())
        return rows, bool(rows)

    def _rows_of(self, pair: Pair, slot: ExpectedSlot) -> tuple[int, ...]:
        if pair.every and not pair.rest:
            return self.hearing.every_row
        return tuple(slot.open_rows) if pair.rest else pair.rows

    def _without_exceptions(
        self, told: Sequence[tuple[TextSpan, tuple[int, ...], bool]]
    ) -> Iterator[tuple[TextSpan, tuple[int, ...], bool]]:
        """What is said of fewer rows goes before what is said of more."""
        for number, (span, rows, plain) in enumerate(told):
            fewer = {
                row
                for other, (_, some, _) in enumerate(told)
                if other != number and len(some) < len(rows)
                for row in some
            }
            yield span, tuple(row for row in rows if row not in fewer), plain


def _is_zero(span: TextSpan) -> bool:
    return span.amount is not None and all(numeral.value == 0 for numeral, _ in span.amount.parts)
