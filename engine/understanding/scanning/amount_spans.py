"""Amounts and bare numbers in a sentence, and what only looks like one."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from engine.entries.matching.match_context import Amount, MatchContext
from engine.entries.matching.numeral import Numeral
from engine.entries.matching.row_numbers import numerals
from engine.entries.matching.slot_fit import fits_usually
from engine.quantities import UNITS, Dimension, Measure
from engine.understanding.scanning.spans import COMPOUNDS, SpanKind, TextSpan

MOST_PER = 3
"""Words between an amount and what stands over its unit, as in "pounds to the acre"."""
MOST_MARKED = 2
"""From so many digits side by side on they may be a list."""


class AmountSpans:
    """Finds the amounts that begin at a token; ``reporting`` where reports may be told."""

    def __init__(self, hearing: MatchContext, reporting: bool) -> None:
        self.hearing = hearing
        self.loose = hearing.loose
        self.reporting = reporting

    def spans(self, place: int) -> Iterator[TextSpan]:
        yield from self._minutes(place)
        if self._is_pronoun(place) or self.hearing.tokens[place].key in self.loose.not_first:
            return
        found = [
            (end, amount)
            for end, amount in self.hearing.amounts(place)
            if not (self._is_weak(end, amount) or self._is_joined(place, end) or self._is_two(end, amount))
        ]
        if not found:
            yield from self._single(place)
            return
        longest, amount = max(found, key=lambda one: one[0])
        if self._is_part(place, amount) or self._counts_small_parts(longest, amount):
            return
        row = self._row_before(place, found, amount) or self._row_of_list(place, longest, amount)
        yield row or _span(place, longest, amount)

    def _row_of_list(self, place: int, end: int, amount: Amount) -> TextSpan | None:
        """The first of rows told one after another, "5 6 7 and 8", where digits side by side would make one number."""
        if not self.reporting or amount.parts[-1][1] is not None or end - place < MOST_MARKED:
            return None
        rows = [self._single_number(at) for at in range(place, end)]
        return rows[0] if all(one is not None and one.is_one_of(len(self.hearing.every_row)) for one in rows) else None

    def _single_number(self, place: int) -> TextSpan | None:
        """The number that a token is by itself."""
        found = (_span(place, end, amount) for end, amount in self.hearing.amounts(place) if end == place + 1)
        return next(found, None)

    def _is_joined(self, place: int, end: int) -> bool:
        """Whether what looks like a decimal point only joins: "veinte con una raya"."""
        pairs = pairwise(token.key for token in self.hearing.tokens[place:end])
        return any(one in self.loose.not_first and two in self.loose.articles for one, two in pairs)

    def _is_weak(self, end: int, amount: Amount) -> bool:
        """Whether a unit is only a small word here: "thirty in each"."""
        tokens = self.hearing.tokens
        if amount.parts[-1][1] is None or tokens[end - 1].key not in self.loose.weak_units or end >= len(tokens):
            return False
        after = tokens[end]
        slots = (*self.hearing.expectation.slots, *self.hearing.expectation.anywhere)
        lengths = any(Dimension.LENGTH in slot.dimensions for slot in slots)
        return not (after.is_break or (lengths and (after.is_number or after.key in self.loose.after_weak)))

    def _is_two(self, end: int, amount: Amount) -> bool:
        """Whether these are two amounts of unlike kinds, or end before the unit of the second: "80 acres and half a
        mile"."""
        units = [unit for _, unit in amount.parts if unit is not None]
        cut = bool(units) and bool(self.hearing.units_at(end)) and not self.hearing.units_at(end - 1)
        return cut or len({UNITS[unit].dimension for unit in units}) > 1

    def _single(self, place: int) -> Iterator[TextSpan]:
        """One of a unit without a number: "a mile", "a full minute"."""
        if self.hearing.tokens[place].key not in self.loose.single:
            return
        rule, start = self.hearing.matcher.rule, place + 1 + (self.hearing.key(place + 1) in self.loose.full)
        for match in rule("measured_in", start):
            halves = [(one.end, numerals(one.captures)[0]) for one in rule("half", match.end)]
            for _, unit in match.captures:
                for end, more in ((match.end, Numeral("0")), *halves):
                    yield _span(place, end, Amount(((Numeral(f"{1 + more.value:f}"), str(unit)),)))

    def _is_part(self, place: int, amount: Amount) -> bool:
        """Whether a fraction in words has no unit, as in "half a field": it is no number by itself."""
        (_, unit), *more = amount.parts
        return unit is None and not more and 0 < amount.number < 1 and not self.hearing.tokens[place].is_number

    def _counts_small_parts(self, end: int, amount: Amount) -> bool:
        """Whether a number only counts bolts or links, which no question asks for: "hanging by one bolt"."""
        return amount.parts[-1][1] is None and self.hearing.key(end) in self.loose.small_parts

    def _row_before(self, place: int, found: list[tuple[int, Amount]], amount: Amount) -> TextSpan | None:
        """A row's number where the whole would be no usual value and the rest is: "one sixty seven" is row 1, 67."""
        slot = self.hearing.expectation.asked
        if slot is None or not slot.per_row or slot.usual is None or fits_usually(amount, slot):
            return None
        for end, first in found:
            row = TextSpan(SpanKind.NUMBER, place, end, "<number>", amount=first)
            usual = (fits_usually(rest, slot) for _, rest in self.hearing.amounts(end))
            if row.is_one_of(len(self.hearing.every_row)) and any(usual):
                return row
        return None

    def _is_pronoun(self, place: int) -> bool:
        """Whether "one" stands for something named before: "that one", "the last one"."""
        key, before = self.hearing.key(place), self.hearing.key(place - 1) if place else ""
        if key in self.loose.articles:
            return not self.hearing.units_at(place + 1) and not self._counts(place + 1)
        named = key in self.loose.pronouns and before in self.loose.before_pronoun
        return named and not self.hearing.units_at(place + 1)

    def _counts(self, place: int) -> bool:
        """Whether a number goes on there: "un mil", "un cuarto"."""
        return place < len(self.hearing.tokens) and any(True for _ in self.hearing.amounts(place))

    def _minutes(self, place: int) -> Iterator[TextSpan]:
        """ "A minute ten" and the like."""
        for match in self.hearing.find(self.loose.minute, place):
            for seconds in numerals(match.captures):
                yield _span(place, match.end, Amount(((Numeral("1"), "min"), (seconds, "s"))))

    def lengths(self, place: int) -> Iterator[TextSpan]:
        for match in self.hearing.matcher.rule("length", place):
            for measure in [value for _, value in match.captures if isinstance(value, Measure)][:1]:
                yield _span(place, match.end, Amount(((Numeral(f"{measure.value:g}"), measure.unit),)))

    def compounds(self, spans: list[TextSpan]) -> list[TextSpan]:
        """Amounts with what stands over their unit: "seven ounces a thousand", "five mile an hour"."""
        found: list[TextSpan] = []
        place = 0
        while place < len(spans):
            made, end = self._compound(spans, place)
            found.append(made)
            place = end
        return found

    def _compound(self, spans: list[TextSpan], place: int) -> tuple[TextSpan, int]:
        span = spans[place]
        unit = span.amount.parts[-1][1] if span.kind is SpanKind.AMOUNT and span.amount else None
        if unit is None or span.amount is None or len(span.amount.parts) > 1:
            return span, place + 1
        start = span.end
        while start < span.end + MOST_PER and self.hearing.key(start) in self.loose.per:
            start += 1
        for over, phrases in self.loose.over.items():
            whole = COMPOUNDS.get((unit, over))
            led = whole is not None and (start > span.end or self._is_asked(whole))
            end = max(self.hearing.ends(phrases, start), default=0) if led else 0
            if whole and end:
                amount = Amount(((span.amount.parts[0][0], whole),))
                return _span(span.start, end, amount), place + sum(one.start < end for one in spans[place:])
        return span, place + 1

    def _is_asked(self, unit: str) -> bool:
        """Whether the open question asks for such an amount, so that "per" need not be said: "8 lb acre"."""
        slot = self.hearing.expectation.asked
        return slot is not None and UNITS[unit].dimension in slot.dimensions


def _span(start: int, end: int, amount: Amount) -> TextSpan:
    """An amount, by what its last unit measures, or a bare number."""
    units = [unit for _, unit in amount.parts if unit is not None]
    kind, key = (SpanKind.AMOUNT, UNITS[units[-1]].dimension.value) if units else (SpanKind.NUMBER, "number")
    return TextSpan(kind, start, end, f"<{key}>", amount=amount)
