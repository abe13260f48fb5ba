"""Values for the slots that are open, or known and named, found anywhere in a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from engine.entries.matching.match_context import Amount
from engine.entries.matching.slot_fit import Place, fit, is_usual
from engine.expectation import ExpectedSlot, SlotKind
from engine.messages import Entry, Given, Unclear
from engine.quantities import Dimension, Measure
from engine.understanding.extraction.dial_values import dial_in
from engine.understanding.extraction.row_values import RowValues
from engine.understanding.extraction.slot_values import NOTHING, FoundValues
from engine.understanding.scanning.lone_units import one_of
from engine.understanding.scanning.spans import SpanKind, TextSpan
from engine.understanding.weighing.clauses import pieces
from engine.understanding.weighing.contrast import is_concluded, meant_after_all

TARE = "tare"
"""The slot that a scale set back to zero answers."""
WHOLE = 100
"""All shares together, in percent."""
RATES = frozenset({Dimension.AREA_RATE, Dimension.ROW_RATE})


class Values(RowValues):
    """Finds the values of one sentence."""

    def found(self) -> FoundValues:
        """All values of the sentence; nothing where any has no place."""
        asked = self.expectation.slots[0] if self.expectation.slots else None
        if asked is not None and asked.kind is SlotKind.DIAL:
            told = dial_in(self.hearing, self.told.spans, asked)
            if told is not None:
                return FoundValues((told[0],), plain=told[1])
        slots = self._of_rows(self._slots())
        rowed = next((slot for slot, _ in slots if slot.per_row), None)
        values = [span for span in self.told.spans if span.is_value and not self._counts_else(span)]
        if not values:
            return self._nothing(slots)
        named_rows = any(span.kind is SpanKind.ROWS for span in self.told.spans)
        if rowed is None or (slots[0][0] is not rowed and not named_rows):
            return self._one_each(slots, values)
        return self._per_row(slots, rowed)

    def _nothing(self, slots: Sequence[tuple[ExpectedSlot, bool]]) -> FoundValues:
        """A container that weighs nothing, as the scale was set back to zero with it on."""
        slot = slots[0][0] if slots else None
        said = self.hearing.says(self.hearing.vocabulary.loose.nothing)
        if slot is None or slot.name != TARE or not said or slot.default_unit is None:
            return NOTHING if slot is None or slot.per_row else FoundValues(*one_of(self.hearing, slot))
        place = Place(slot, None, self.hearing.text.strip()[:60])
        return FoundValues((place.given(Measure(value=0.0, unit=slot.default_unit)),), plain=True)

    def _counts_else(self, span: TextSpan) -> bool:
        """Whether a bare number counts bags or other things, which no slot asks for, or an amount is the strength of a
        product whose name is asked for: "Product A 20G"."""
        before = self.hearing.tokens[span.start - 1].text if span.start else ""
        if self.expectation.asks_name and span.kind is SpanKind.AMOUNT and before.istitle():
            return True
        if span.kind is SpanKind.NUMBER and self._is_each(span):
            return True
        after = self.hearing.tokens[span.end : span.end + 1]
        loose = self.hearing.vocabulary.loose
        asked = self.expectation.slots[0] if self.expectation.slots else None
        bags = () if asked is not None and asked.kind is SlotKind.COUNT else loose.bags
        return span.kind is SpanKind.NUMBER and bool(after) and after[0].key in (*bags, *loose.counted)

    def _is_each(self, span: TextSpan) -> bool:
        """Whether a number stands inside words for each: "cada uno"."""
        each, before = self.hearing.vocabulary.each, range(max(0, span.start - 2), span.start)
        return any(one.end >= span.end for place in before for one in self.hearing.find(each, place))

    def _one_each(self, slots: Sequence[tuple[ExpectedSlot, bool]], values: Sequence[TextSpan]) -> FoundValues:
        taken: dict[str, tuple[ExpectedSlot, bool, TextSpan]] = {}
        if ends := self._ends(slots, values) or self._two_alike(slots, values):
            return FoundValues(ends, plain=True, spans=tuple(values))
        values, plain = self._meant(slots, values)
        lost = not plain
        for span in values:
            place = next((one for one in slots if self._fits(one[0], span, first=one is slots[0])), None)
            if place is None:
                lost = lost or not any(_same(span, other) for other in values if other is not span)
            elif place[0].name not in taken or (
                taken[place[0].name][2].kind is SpanKind.NUMBER and span.kind is SpanKind.AMOUNT
            ):
                before = taken[place[0].name][2] if place[0].name in taken else None
                lost = lost or (before is not None and not _same(before, span) and self._may_be(place[0], before))
                taken[place[0].name] = (*place, span)
            elif taken[place[0].name][2].amount != span.amount:
                before = taken[place[0].name][2]
                lost = (
                    lost
                    or span.kind is SpanKind.AMOUNT
                    or before.kind is SpanKind.NUMBER
                    or self._may_be(place[0], span)
                )
        if not taken:
            return self._refused(slots, values)
        entries = tuple(self._given(slot, None, span, known) for slot, known, span in taken.values())
        used = [span for *_, span in taken.values()]
        return FoundValues(entries, not lost and not self._strange(used), tuple(used))

    def _ends(self, slots: Sequence[tuple[ExpectedSlot, bool]], values: Sequence[TextSpan]) -> tuple[Entry, ...]:
        """The lowest and the highest rate in one breath, where one is asked for after the other: "5 to 12 pounds"."""
        if len(values) != 2 or len(slots) < 2 or slots[1][1] or not RATES & set(slots[0][0].dimensions):
            return ()
        (low, _), (high, _) = slots[:2]
        between = [span.key for span in self.told.spans if values[0].end <= span.start < values[1].start]
        ranged = bool(between) and set(between) <= set(self.hearing.vocabulary.loose.range_words)
        if low.dimensions != high.dimensions or not ranged or values[1].amount is None or values[0].amount is None:
            return ()
        unit = self._amount(values[1], high).parts[0][1]
        first = replace(values[0], amount=Amount(((values[0].amount.parts[0][0], unit),)))
        given = (self._given(low, None, first, known=False), self._given(high, None, values[1], known=False))
        return given if all(isinstance(one, Given) for one in given) else ()

    def _two_alike(self, slots: Sequence[tuple[ExpectedSlot, bool]], values: Sequence[TextSpan]) -> tuple[Entry, ...]:
        """Two amounts for two questions of one dimension, where the second is mentioned before its own: "the cup is
        14 g and the scale reads 1 g"."""
        if len(values) != 2 or len(slots) < 2 or slots[1][1]:
            return ()
        (one, _), (other, _) = slots[:2]
        phrases = self.hearing.vocabulary.loose.mentions.get(other.name, ())
        between = [span.start for span in self.told.spans if values[0].end <= span.start < values[1].start]
        if one.dimensions != other.dimensions or not phrases or not self.hearing.says(phrases, between):
            return ()
        given = tuple(
            self._given(slot, None, value, known=False) for (slot, _), value in zip(slots, values, strict=False)
        )
        return given if all(isinstance(entry, Given) for entry in given) else ()

    def _meant(
        self, slots: Sequence[tuple[ExpectedSlot, bool]], values: Sequence[TextSpan]
    ) -> tuple[Sequence[TextSpan], bool]:
        """The values that are meant after all, where all may be for the same slot alone: a bare number is for the
        first one only."""
        if not slots:
            return values, True
        alike = [slot for slot, _ in slots if set(slot.dimensions) & set(slots[0][0].dimensions)]
        bare = any(span.kind is SpanKind.NUMBER for span in values)
        alone = (bare or len(alike) == 1) and all(self._fits(slots[0][0], span, first=True) for span in values)
        fitting = [span for span in values if self._fits(slots[0][0], span, first=True)]
        if bare and fitting[-1:] == list(values[-1:]) and is_concluded(fitting, self.told.spans, self.hearing):
            return fitting[-1:], True
        if alone and (active := self._without_rest(slots[0][0], values)):
            return active, True
        return meant_after_all(values, self.told.spans, self.hearing) if alone else (values, True)

    def _without_rest(self, slot: ExpectedSlot, values: Sequence[TextSpan]) -> list[TextSpan]:
        """Of two shares of a whole the only one that is usual: a label tells what is active and all other ingredients
        beside each other, 100 % together (40 CFR 156.10(g))."""
        told = [span.amount.parts[0][0].value for span in values if span.amount is not None]
        if Dimension.RATIO not in slot.dimensions or len(told) != 2 or sum(told) != WHOLE:
            return []
        usual = [span for span in values if self._may_be(slot, span)]
        parts = pieces(self.told.spans)
        phrases = self.hearing.vocabulary.loose.mentions.get(slot.name, ())
        named = [part for part in parts if self.hearing.says(phrases, (span.start for span in part))]
        named_values = [span for span in usual if any(span in part for part in named)]
        return usual if len(usual) == 1 else named_values if len(named_values) == 1 else []

    def _may_be(self, slot: ExpectedSlot, span: TextSpan) -> bool:
        """Whether a bare number would be a usual value of a slot."""
        given = fit(self._amount(span, slot), Place(slot, None, ""))
        return isinstance(given, Given) and is_usual(given.value, slot)

    def _refused(self, slots: Sequence[tuple[ExpectedSlot, bool]], values: Sequence[TextSpan]) -> FoundValues:
        """Why a single value cannot be what is asked, where there is a single one."""
        if len(values) != 1 or not slots:
            return NOTHING
        slot = slots[0][0]
        entry = fit(self._amount(values[0], slot), Place(slot, None, self.hearing.said(values[0].start, values[0].end)))
        return FoundValues((entry,), plain=True) if isinstance(entry, Unclear) else NOTHING


def _same(one: TextSpan, other: TextSpan) -> bool:
    """Whether two spans tell one number: "it goes by 2s, 2 g"."""
    return one.amount is not None and other.amount is not None and one.amount.parts[0][0] == other.amount.parts[0][0]
