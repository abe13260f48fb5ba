"""Values for the slots that are open, or known and named, found anywhere in a sentence, one of a unit that stands alone
and the marks of a dial among them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from engine.entries.matching.match_context import Amount, MatchContext
from engine.entries.matching.numeral import Numeral
from engine.entries.matching.row_numbers import number_of
from engine.entries.matching.slot_fit import Place, fit, fits_usually
from engine.expectation import ExpectedSlot, SlotKind
from engine.messages import Entry, Given, Unclear
from engine.quantities import Dimension, Measure
from engine.understanding.extraction.row_values import RowValues
from engine.understanding.extraction.slot_values import NOTHING, FoundValues, Slots
from engine.understanding.scanning.spans import SpanKind, TextSpan
from engine.understanding.weighing.clauses import pieces
from engine.understanding.weighing.repair import is_concluded, meant_after_all
from engine.values import Dial

TARE = "tare"
"""The slot that a scale set back to zero answers."""
STEP = "step"
"""The last word of the roles of slots that ask from one mark or figure to the next."""
WHOLE = 100
"""All shares together, in percent."""
RATES = frozenset({Dimension.AREA_RATE, Dimension.ROW_RATE})
ENDS, WITH_STEP = 2, 3
"""Numbers of a scale: its ends, and its step beside them."""


class Values(RowValues):
    """Finds the values of one sentence."""

    def found(self) -> FoundValues:
        """All values of the sentence; nothing where any has no place."""
        asked = self.expectation.asked
        dial = asked is not None and asked.kind is SlotKind.DIAL
        if asked is not None and dial and (told := dial_in(self.hearing, self.told.spans, asked)) is not None:
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

    def _nothing(self, slots: Slots) -> FoundValues:
        """A container that weighs nothing, as the scale was set back to zero with it on."""
        slot = slots[0][0] if slots else None
        said = self.hearing.says(self.hearing.loose.nothing)
        if slot is None or slot.name != TARE or not said or slot.default_unit is None:
            return NOTHING if slot is None or slot.per_row else FoundValues(*one_of(self.hearing, slot))
        place = Place(slot, None, self.hearing.text.strip()[:60])
        return FoundValues((place.given(Measure(value=0.0, unit=slot.default_unit)),), plain=True)

    def _counts_else(self, span: TextSpan) -> bool:
        """Whether a bare number counts bags or other things, which no slot asks for, or an amount is the strength of a
        product whose name is asked for: "Product A 20G"."""
        before = self.hearing.tokens[span.start - 1].text if span.start else ""
        if span.kind is SpanKind.AMOUNT:
            return self.expectation.asks_name and before.istitle()
        loose, asked = self.hearing.loose, self.expectation.asked
        bags = () if asked is not None and asked.kind is SlotKind.COUNT else loose.bags
        return self._is_each(span) or self.hearing.key(span.end) in (*bags, *loose.counted)

    def _is_each(self, span: TextSpan) -> bool:
        """Whether a number stands inside words for each: "cada uno"."""
        before = range(max(0, span.start - 2), span.start)
        return max(self.hearing.ends(self.hearing.vocabulary.each, *before), default=0) >= span.end

    def _one_each(self, slots: Slots, values: Sequence[TextSpan]) -> FoundValues:
        taken: dict[str, tuple[ExpectedSlot, bool, TextSpan]] = {}
        if two := self._two(slots, values):
            return FoundValues(two, plain=True, spans=tuple(values))
        values, plain = self._meant(slots, values)
        lost = not plain
        for span in values:
            place = next((one for one in slots if self._fits(one[0], span, first=one is slots[0])), None)
            if place is None:
                lost = lost or not any(_same(span, other) for other in values if other is not span)
                continue
            slot, _ = place
            before = taken[slot.name][2] if slot.name in taken else None
            if before is None or (before.kind is SpanKind.NUMBER and span.kind is SpanKind.AMOUNT):
                lost = lost or (before is not None and not _same(before, span) and self._may_be(slot, before))
                taken[slot.name] = (*place, span)
            elif before.amount != span.amount:
                aside = before.kind is SpanKind.AMOUNT and span.kind is SpanKind.NUMBER
                lost = lost or not aside or self._may_be(slot, span)
        if not taken:
            return self._refused(slots, values)
        entries = tuple(self._given(slot, None, span, known) for slot, known, span in taken.values())
        used = [span for *_, span in taken.values()]
        return FoundValues(entries, not lost and not self._strange(used), tuple(used))

    def _two(self, slots: Slots, values: Sequence[TextSpan]) -> tuple[Entry, ...]:
        """Two amounts for two questions of one dimension that are asked one after the other: the lowest and the highest
        rate, "5 to 12 pounds", or where the second is mentioned before its own, "the cup is 14 g and the scale reads
        1 g"."""
        if len(values) != 2 or len(slots) < 2 or slots[1][1] or slots[0][0].dimensions != slots[1][0].dimensions:
            return ()
        one, other, first, second = slots[0][0], slots[1][0], *values
        between = [span for span in self.told.spans if first.end <= span.start < second.start]
        ranged = bool(between) and {span.key for span in between} <= set(self.hearing.loose.range_words)
        if ranged and RATES & set(one.dimensions) and first.amount is not None:
            unit = self._amount(second, other).parts[0][1]
            first = replace(first, amount=Amount(((first.amount.parts[0][0], unit),)))
        elif not self.hearing.says(self.hearing.mentions(other), (span.start for span in between)):
            return ()
        given = (self._given(one, None, first, known=False), self._given(other, None, second, known=False))
        return given if all(isinstance(entry, Given) for entry in given) else ()

    def _meant(self, slots: Slots, values: Sequence[TextSpan]) -> tuple[Sequence[TextSpan], bool]:
        """The values that are meant after all, where all may be for the same slot alone: a bare number is for the
        first one only."""
        if not slots:
            return values, True
        alike = [slot for slot, _ in slots if set(slot.dimensions) & set(slots[0][0].dimensions)]
        bare = any(span.kind is SpanKind.NUMBER for span in values)
        fitting = [span for span in values if self._fits(slots[0][0], span, first=True)]
        alone = (bare or len(alike) == 1) and len(fitting) == len(values)
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
        phrases = self.hearing.mentions(slot)
        parts = (part for part in pieces(self.told.spans) if self.hearing.says(phrases, (one.start for one in part)))
        named = [span for part in parts for span in part if span in usual]
        return usual if len(usual) == 1 else named if len(named) == 1 else []

    def _may_be(self, slot: ExpectedSlot, span: TextSpan) -> bool:
        """Whether a bare number would be a usual value of a slot."""
        return fits_usually(self._amount(span, slot), slot)

    def _refused(self, slots: Slots, values: Sequence[TextSpan]) -> FoundValues:
        """Why a single value cannot be what is asked, where there is a single one."""
        if len(values) != 1 or not slots:
            return NOTHING
        slot = slots[0][0]
        entry = fit(self._amount(values[0], slot), Place(slot, None, self.hearing.said(values[0].start, values[0].end)))
        return FoundValues((entry,), plain=True) if isinstance(entry, Unclear) else NOTHING


def _same(one: TextSpan, other: TextSpan) -> bool:
    """Whether two spans tell one number: "it goes by 2s, 2 g"."""
    return one.amount is not None and other.amount is not None and one.amount.parts[0][0] == other.amount.parts[0][0]


def one_of(hearing: MatchContext, slot: ExpectedSlot) -> tuple[tuple[Given, ...], bool]:
    """One, or the part said in words, of the unit that is named without a number, where just one such fits the slot;
    whether it is plainly said: how steps go, where steps are asked."""
    if slot.kind is not SlotKind.MEASURE:
        return (), False
    places = (place for place, token in enumerate(hearing.tokens) if len(token.key) > 1)
    units = {unit for place in places for unit in hearing.units_at(place)}
    fitting = [unit for unit in units if unit in slot.units]
    asked = hearing.loose.steps.items() if (slot.role or "").endswith(STEP) else ()
    steps = [step for step, phrases in asked if hearing.says(phrases)]
    plain = len(steps) == 1
    unit = fitting[0] if len(fitting) == 1 else slot.default_unit if plain and not units else None
    if unit is None or (steps and not plain):
        return (), False
    entry = fit(Amount(((Numeral((*steps, "1")[0]), unit),)), Place(slot, None, hearing.text.strip()[:60]))
    return ((entry,), plain) if isinstance(entry, Given) else ((), False)


def dial_in(hearing: MatchContext, spans: Sequence[TextSpan], slot: ExpectedSlot) -> tuple[Given, bool] | None:
    """The dial that a sentence tells, and whether all of it was said: a step that was not is one."""
    place = Place(slot, None, hearing.text.strip())
    letters = _letters(hearing)
    if len(set(letters)) == len(letters) > 1:
        return place.given(Dial.marked(letters)), True
    numbers = _once_more(
        [
            span.amount.number
            for span in spans
            if span.amount is not None and (span.kind is SpanKind.NUMBER or _counted(span))
        ]
    )
    if len(numbers) not in (ENDS, WITH_STEP) or numbers[0] >= numbers[1]:
        return None
    in_words = (float(step) for step, phrases in hearing.loose.steps.items() if hearing.says(phrases))
    steps = [*numbers[ENDS:], *_fractions(hearing), *in_words]
    step = (*steps, 1.0)[0]
    if not 0 < step <= numbers[1] - numbers[0]:
        return None
    return place.given(Dial.numbered(numbers[0], numbers[1], step)), len(set(steps)) == 1


def _letters(hearing: MatchContext) -> tuple[str, ...]:
    """The letters of a dial, those between two ends as well."""
    letters = [token.text.upper() for token in hearing.tokens if len(token.text) == 1 and token.text.isupper()]
    ranged = any(token.key in hearing.loose.range_words for token in hearing.tokens)
    if len(letters) == ENDS and letters[0] < letters[1] and ranged:
        return tuple(chr(code) for code in range(ord(letters[0]), ord(letters[1]) + 1))
    return tuple(letters)


def _once_more(numbers: list[float]) -> list[float]:
    """ "De cinco en cinco" says a step twice."""
    same = len(numbers) > WITH_STEP and len(set(numbers[ENDS:])) == 1
    return numbers[:WITH_STEP] if same else numbers


def _counted(span: TextSpan) -> bool:
    """Whether an amount is a number with an ending: "by 2s" are no seconds."""
    return span.amount is not None and [unit for _, unit in span.amount.parts] == ["s"]


def _fractions(hearing: MatchContext) -> list[float]:
    """Fractions in words, as in "with half marks between"."""
    found = (one for place in range(len(hearing.tokens)) for one in hearing.matcher.rule("fraction", place))
    return [number_of(one) for one in found]
