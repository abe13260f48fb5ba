"""What is told with a report: the amounts of a clause, in the unit that was said or that such amounts have here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from engine.entries.matching.match_context import MatchContext, total
from engine.messages import Report
from engine.quantities import UNITS, Dimension, Measure
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
        weak = self.words.loose.weak_units
        self.units_at = [
            () if token.key in weak else tuple(hearing.units_at(place)) for place, token in enumerate(hearing.tokens)
        ]
        self.said = [unit for units in self.units_at for unit in units]
        self.units = (*self.said, *hearing.expectation.units)
        """A number without a unit beside others is of the same."""

    def of(self, span: TextSpan, dimensions: tuple[Dimension, ...]) -> Measure | None:
        """An amount of these dimensions; a bare number in the unit that such amounts were told in before."""
        pointed = self.hearing.tokens[span.start].key in self.words.loose.determiners
        if span.amount is None or span.amount.unsaid or pointed:
            return None
        if span.kind is SpanKind.AMOUNT:
            return total(in_terms_of(span.amount, dimensions, self.units), dimensions)
        unit = self._usual_unit(dimensions)
        number = float(span.amount.parts[0][0].value)
        return Measure(value=number, unit=unit) if unit and len(span.amount.parts) == 1 else None

    def _usual_unit(self, dimensions: tuple[Dimension, ...]) -> str | None:
        return next((unit for unit in self.units if UNITS[unit].dimension in dimensions), None)

    def _is_of_its_own(self, report: Report, span: TextSpan, spans: Sequence[TextSpan]) -> bool:
        """Whether an amount has its unit, or stands where no other units are said that it might be of."""
        others = {UNITS[unit].dimension for unit in self._said_in(spans)} - {*MEASURED[report], Dimension.TIME}
        return span.kind is SpanKind.AMOUNT or not others

    def _said_in(self, spans: Sequence[TextSpan]) -> list[str]:
        """The units that a clause names."""
        places = range(spans[0].start, spans[-1].end) if spans else range(0)
        return [unit for place in places for unit in self.units_at[place]]

    def _at_number(self, report: Report, spans: Sequence[TextSpan]) -> list[tuple[Measure, TextSpan]]:
        """ "Going at five": what looked like a time of day is the amount."""
        for span in spans:
            if span.kind is SpanKind.MOMENT and not any(
                token.key == ":" for token in self.hearing.tokens[span.start : span.end]
            ):
                for end, amount in self.hearing.amounts(span.start + 1):
                    number = TextSpan(SpanKind.NUMBER, span.start + 1, end, "<number>", amount=amount)
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
            if span.kind is SpanKind.LEVEL:
                return span.measure
            share = total(span.amount, (Dimension.RATIO,)) if span.kind is SpanKind.AMOUNT and span.amount else None
            return share if share is not None and share.unit == "%" else None
        return self.of(span, MEASURED[report])
