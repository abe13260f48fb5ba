"""Amounts and bare numbers in a sentence, and what only looks like one."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from engine.entries.matching.match_context import Amount, MatchContext
from engine.entries.matching.numeral import Numeral
from engine.entries.matching.row_numbers import numerals
from engine.entries.matching.slot_fit import Place, fit, is_usual
from engine.expectation import ExpectedSlot
from engine.messages import Given
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
        self.loose = hearing.vocabulary.loose
        self.reporting = reporting

    def spans(self, place: int) -> Iterator[TextSpan]:
        yield from self._minutes(place)
        if self._is_pronoun(place):
            return
        if self.hearing.tokens[place].key in self.loose.not_first:
            return
        found = [
            (end, amount)
            for end, amount in self.hearing.amounts(place)
            if not (self._is_weak(end, amount) or self._is_joined(place, end) or self._is_two(end, amount))
        ]
        longest = max((end for end, _ in found), default=0)
        readings = [amount for end, amount in found if end == longest]
        if not readings:
            yield from self._single(place)
            return
        amount = readings[0]
        if self._is_part(place, amount) or self._counts_small_parts(longest, amount):
            return
        short = self._row_before(place, found, amount) or self._row_of_list(place, longest, amount)
        if short is not None:
            yield short
            return
        units = [unit for _, unit in amount.parts if unit is not None]
        if not units:
            yield TextSpan(SpanKind.NUMBER, place, longest, "<number>", amount=amount)
        else:
            dimension = UNITS[units[-1]].dimension
            yield TextSpan(SpanKind.AMOUNT, place, longest, f"<{dimension}>", amount=amount)

    def _row_of_list(self, place: int, end: int, amount: Amount) -> TextSpan | None:
        """The first of rows told one after another, "5 6 7 and 8", where digits side by side would make one number."""
        if not self.reporting or amount.parts[-1][1] is not None or end - place < MOST_MARKED:
            return None
        for first in range(place, end):
            single = [one for stop, one in self.hearing.amounts(first) if stop == first + 1]
            row = TextSpan(SpanKind.NUMBER, first, first + 1, "<number>", amount=single[0]).row if single else None
            if row is None or row > len(self.hearing.every_row):
                return None
        first_amount = next(one for stop, one in self.hearing.amounts(place) if stop == place + 1)
        return TextSpan(SpanKind.NUMBER, place, place + 1, "<number>", amount=first_amount)

    def _is_joined(self, place: int, end: int) -> bool:
        """Whether what looks like a decimal point only joins: "veinte con una raya"."""
        keys = [token.key for token in self.hearing.tokens[place:end]]
        pairs = pairwise(keys)
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
        start = place + 1
        if start < len(self.hearing.tokens) and self.hearing.tokens[start].key in self.loose.full:
            start += 1
        for match in self.hearing.matcher.rule("measured_in", start):
            halves = [(one.end, numerals(one.captures)[0]) for one in self.hearing.matcher.rule("half", match.end)]
            for capture in match.captures:
                for end, more in ((match.end, Numeral("0")), *halves):
                    amount = Amount(((Numeral(f"{1 + more.value:f}"), str(capture.value)),))
                    yield TextSpan(
                        SpanKind.AMOUNT, place, end, f"<{UNITS[str(capture.value)].dimension}>", amount=amount
                    )

    def _is_part(self, place: int, amount: Amount) -> bool:
        """Whether a fraction in words has no unit, as in "half a field": it is no number by itself."""
        (numeral, unit), *more = amount.parts
        return (
            unit is None
            and not more
            and numeral.value < 1
            and not self.hearing.tokens[place].is_number
            and numeral.value > 0
        )

    def _counts_small_parts(self, end: int, amount: Amount) -> bool:
        """Whether a number only counts bolts or links, which no question asks for: "hanging by one bolt"."""
        after = self.hearing.tokens[end : end + 1]
        return amount.parts[-1][1] is None and bool(after) and after[0].key in self.loose.small_parts

    def _row_before(self, place: int, found: list[tuple[int, Amount]], amount: Amount) -> TextSpan | None:
        """A row's number where the whole would be no usual value and the rest is: "one sixty seven" is row 1, 67."""
        slot = next(iter(self.hearing.expectation.slots), None)
        if slot is None or not slot.per_row or slot.usual is None or _is_usual(amount, slot):
            return None
        for end, first in found:
            row = TextSpan(SpanKind.NUMBER, place, end, "<number>", amount=first)
            if row.row is None or row.row > len(self.hearing.every_row):
                continue
            if any(_is_usual(rest, slot) for _, rest in self.hearing.amounts(end)):
                return row
        return None

    def _is_pronoun(self, place: int) -> bool:
        """Whether "one" stands for something named before: "that one", "the last one"."""
        tokens = self.hearing.tokens
        if tokens[place].key in self.loose.articles:
            return not self.hearing.units_at(place + 1) and not self._counts(place + 1)
        return (
            tokens[place].key in self.loose.pronouns
            and place > 0
            and tokens[place - 1].key in self.loose.before_pronoun
            and not self.hearing.units_at(place + 1)
        )

    def _counts(self, place: int) -> bool:
        """Whether a number goes on there: "un mil", "un cuarto"."""
        return place < len(self.hearing.tokens) and any(True for _ in self.hearing.amounts(place))

    def _minutes(self, place: int) -> Iterator[TextSpan]:
        """ "A minute ten" and the like."""
        for match in self.hearing.find(self.loose.minute, place):
            for seconds in numerals(match.captures):
                amount = Amount(((Numeral("1"), "min"), (seconds, "s")))
                yield TextSpan(SpanKind.AMOUNT, place, match.end, "<time>", amount=amount)

    def lengths(self, place: int) -> Iterator[TextSpan]:
        for match in self.hearing.matcher.rule("length", place):
            measure = next((value for _, value in match.captures if isinstance(value, Measure)), None)
            if measure is not None:
                amount = Amount(((Numeral(f"{measure.value:g}"), measure.unit),))
                yield TextSpan(SpanKind.AMOUNT, place, match.end, "<time>", amount=amount)

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
        while start < min(span.end + MOST_PER, len(self.hearing.tokens)):
            if self.hearing.tokens[start].key not in self.loose.per:
                break
            start += 1
        for over, phrases in self.loose.over.items():
            whole = COMPOUNDS.get((unit, over))
            led = whole is not None and (start > span.end or self._is_asked(whole))
            ends = [match.end for match in self.hearing.find(phrases, start)] if led else []
            if whole and ends:
                amount = Amount(((span.amount.parts[0][0], whole),))
                key = f"<{UNITS[whole].dimension}>"
                after = next(
                    (number for number in range(place, len(spans)) if spans[number].start >= max(ends)), len(spans)
                )
                return TextSpan(SpanKind.AMOUNT, span.start, max(ends), key, amount=amount), after
        return span, place + 1

    def _is_asked(self, unit: str) -> bool:
        """Whether the open question asks for such an amount, so that "per" need not be said: "8 lb acre"."""
        slots = self.hearing.expectation.slots[:1]
        return any(UNITS[unit].dimension in slot.dimensions for slot in slots)


def _is_usual(amount: Amount, slot: ExpectedSlot) -> bool:
    given = fit(amount, Place(slot, 1, ""))
    return isinstance(given, Given) and is_usual(given.value, slot)
