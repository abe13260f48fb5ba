"""What is told with a report: the amounts of a clause, in the unit that was said or that such amounts have here, what a
refill was, how long to wait, the number of a lot."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from engine.entries.matching.match_context import MatchContext, total
from engine.entries.phrases.tokens import has_digit
from engine.messages import Report
from engine.quantities import UNITS, Dimension, Measure
from engine.understanding.extraction.told_names import code_in
from engine.understanding.scanning.spans import SpanKind, TextSpan, in_terms_of

MEASURED: dict[Report, tuple[Dimension, ...]] = {
    Report.LEFT: (Dimension.MASS,),
    Report.REFILLED: (Dimension.MASS,),
    Report.CAUGHT: (Dimension.MASS,),
    Report.PLANTED: (Dimension.AREA,),
    Report.REMAINING: (Dimension.AREA,),
    Report.SPEED: (Dimension.SPEED,),
    Report.RATE: (Dimension.AREA_RATE, Dimension.ROW_RATE),
    Report.LOOKS: (Dimension.AREA, Dimension.TIME),
}
"""What is told with a report; only of a refill it need not be."""


class ReportAmounts:
    """One sentence with the units that its amounts may be in."""

    def __init__(self, hearing: MatchContext, knows: Callable[[str], bool]) -> None:
        self.hearing = hearing
        self.knows = knows
        self.words = hearing.vocabulary
        self.rows = hearing.every_row
        self.units = (*self._units_in(0, len(hearing.tokens)), *hearing.expectation.units)
        """A number without a unit beside others is of the same."""

    def _units_in(self, start: int, end: int) -> list[str]:
        """The units that are named from one token up to another, but for small words."""
        places = (place for place in range(start, end) if self.hearing.key(place) not in self.hearing.loose.weak_units)
        return [unit for place in places for unit in self.hearing.units_at(place)]

    def of(self, span: TextSpan, dimensions: tuple[Dimension, ...]) -> Measure | None:
        """An amount of these dimensions; a bare number in the unit that such amounts were told in before."""
        pointed = self.hearing.tokens[span.start].key in self.words.loose.determiners
        if span.amount is None or span.amount.unsaid or pointed:
            return None
        if span.kind is SpanKind.AMOUNT:
            return total(in_terms_of(span.amount, dimensions, self.units), dimensions)
        unit = next((unit for unit in self.units if UNITS[unit].dimension in dimensions), None)
        return Measure(value=span.amount.number, unit=unit) if unit and len(span.amount.parts) == 1 else None

    def _is_of_its_own(self, report: Report, span: TextSpan, spans: Sequence[TextSpan]) -> bool:
        """Whether an amount has its unit, or stands where no other units are said that it might be of."""
        others = {UNITS[unit].dimension for unit in self._said_in(spans)} - {*MEASURED[report], Dimension.TIME}
        return span.kind is SpanKind.AMOUNT or not others

    def _said_in(self, spans: Sequence[TextSpan]) -> list[str]:
        """The units that a clause names."""
        return self._units_in(spans[0].start, spans[-1].end) if spans else []

    def _at_number(self, report: Report, spans: Sequence[TextSpan]) -> list[tuple[Measure, TextSpan]]:
        """ "Going at five": what looked like a time of day is the amount."""
        moments = [span for span in spans if span.kind is SpanKind.MOMENT]
        plain = [one for one in moments if ":" not in map(self.hearing.key, range(one.start, one.end))]
        for start in (span.start + 1 for span in plain):
            for end, amount in self.hearing.amounts(start):
                number = TextSpan(SpanKind.NUMBER, start, end, "<number>", amount=amount)
                if (measure := self.of(number, MEASURED[report])) is not None:
                    return [(measure, number)]
        return []

    def _one_of_time(self, report: Report, spans: Sequence[TextSpan]) -> list[tuple[Measure, TextSpan]]:
        """ "Remind me every hour": one of the unit that is named without a number."""
        units = [unit for unit in self._said_in(spans) if UNITS[unit].dimension is Dimension.TIME]
        if report is not Report.LOOKS or len(units) != 1:
            return []
        return [(Measure(value=1.0, unit=units[0]), replace(spans[-1], kind=SpanKind.AMOUNT))]

    def _measure(self, report: Report, span: TextSpan) -> Measure | None:
        if report is Report.LEVEL:
            share = span.measure if span.kind is SpanKind.LEVEL else span.measured(Dimension.RATIO)
            return share if share is not None and share.unit == "%" else None
        return self.of(span, MEASURED[report])


def said_in(hearing: MatchContext, spans: Sequence[TextSpan]) -> str:
    """The words of a clause, without marks and joining words at its ends."""
    inside = [span for span in spans if not span.is_mark]
    return hearing.said(inside[0].start, inside[-1].end) if inside else hearing.text[:60]


def refill(hearing: MatchContext, spans: Sequence[TextSpan]) -> tuple[object, bool]:
    """A weight, or a number of bags."""
    if (mass := next(filter(None, (span.measured(Dimension.MASS) for span in spans)), None)) is not None:
        return mass, True
    for place, span in enumerate(spans):
        before = spans[place - 1] if place else None
        after = spans[place + 1].key if place + 1 < len(spans) else ""
        if span.kind is SpanKind.NUMBER and span.amount and after in hearing.loose.bags:
            alone = sum(one.kind is SpanKind.NUMBER and one.row not in hearing.every_row for one in spans) <= 1
            return Measure(value=span.amount.number, unit="1"), alone
        if span.kind is SpanKind.LEVEL and span.measure and after in hearing.loose.bags:
            return Measure(value=span.measure.value / 100, unit="1"), True
        if span.key in hearing.loose.single and after in hearing.loose.bags:
            part = before.measure if before is not None and before.kind is SpanKind.LEVEL else None
            return Measure(value=part.value / 100 if part else 1, unit="1"), True
    bare = [span for span in spans if span.kind is SpanKind.NUMBER and span.row not in hearing.every_row]
    unit = next((one for one in hearing.expectation.units if UNITS[one].dimension is Dimension.MASS), None)
    if len(bare) == 1 and unit is not None and bare[0].amount is not None:
        return Measure(value=bare[0].amount.number, unit=unit), True
    return None, not any(span.kind is SpanKind.NUMBER for span in spans)


def put_off(spans: Sequence[TextSpan]) -> tuple[object, bool]:
    for span in spans:
        if time := span.measured(Dimension.TIME):
            return time.to("min"), True
        if span.kind is SpanKind.NUMBER and span.amount:
            return Measure(value=span.amount.number, unit="min"), True
    return None, True


def lot_number(hearing: MatchContext, spans: Sequence[TextSpan]) -> str | None:
    """The number of a lot; what may be a row is none where no lot is named: "number eight hasn't gone down"."""
    number = _lot_number(hearing, spans)
    named = hearing.says(hearing.loose.mentions.get(Report.LOT, ()), (span.start for span in spans))
    is_row = number is not None and number.isdigit() and int(number) in hearing.every_row
    return None if is_row and not named else number


def _lot_number(hearing: MatchContext, spans: Sequence[TextSpan]) -> str | None:
    if code := code_in(said_in(hearing, spans)):
        return code
    found = ((span.start, match) for span in spans for match in hearing.matcher.rule("lot_number", span.start))
    lots = ((match.end - start, str(value)) for start, match in found for _, value in match.captures)
    return max((lot for lot in lots if has_digit(lot[1])), default=(0, None))[1]


def lot_of_refill(hearing: MatchContext, spans: Sequence[TextSpan]) -> str | None:
    for place, span in enumerate(spans):
        if span.key in hearing.loose.lot:
            return _lot_number(hearing, spans[place + 1 : place + 3])
    return None
