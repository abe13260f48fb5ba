"""What is told beside the kind of a report: what a refill was, how long to wait, the number of a lot."""

from __future__ import annotations

from collections.abc import Sequence

from engine.entries.matching.match_context import MatchContext, total
from engine.messages import Report
from engine.quantities import UNITS, Dimension, Measure
from engine.understanding.extraction.told_names import code_in
from engine.understanding.scanning.spans import SpanKind, TextSpan


def said_in(hearing: MatchContext, spans: Sequence[TextSpan]) -> str:
    """The words of a clause, without marks and joining words at its ends."""
    inside = [span for span in spans if span.kind not in (SpanKind.JOIN, SpanKind.BREAK)]
    return hearing.said(inside[0].start, inside[-1].end) if inside else hearing.text[:60]


def refill(hearing: MatchContext, spans: Sequence[TextSpan]) -> tuple[object, bool]:
    """A weight, or a number of bags."""
    for span in spans:
        if span.kind is SpanKind.AMOUNT and span.amount and (mass := total(span.amount, (Dimension.MASS,))):
            return mass, True
    for place, span in enumerate(spans):
        before = spans[place - 1] if place else None
        after = spans[place + 1].key if place + 1 < len(spans) else ""
        if span.kind is SpanKind.NUMBER and span.amount and after in hearing.vocabulary.loose.bags:
            alone = sum(one.kind is SpanKind.NUMBER and one.row not in hearing.every_row for one in spans) <= 1
            return Measure(value=float(span.amount.parts[0][0].value), unit="1"), alone
        if span.kind is SpanKind.LEVEL and span.measure and after in hearing.vocabulary.loose.bags:
            return Measure(value=span.measure.value / 100, unit="1"), True
        if span.key in hearing.vocabulary.loose.single and after in hearing.vocabulary.loose.bags:
            part = before.measure if before is not None and before.kind is SpanKind.LEVEL else None
            return Measure(value=part.value / 100 if part else 1, unit="1"), True
    bare = [span for span in spans if span.kind is SpanKind.NUMBER and span.row not in hearing.every_row]
    unit = next((one for one in hearing.expectation.units if UNITS[one].dimension is Dimension.MASS), None)
    if len(bare) == 1 and unit is not None and bare[0].amount is not None:
        return Measure(value=float(bare[0].amount.parts[0][0].value), unit=unit), True
    return None, not any(span.kind is SpanKind.NUMBER for span in spans)


def put_off(spans: Sequence[TextSpan]) -> tuple[object, bool]:
    for span in spans:
        if span.kind is SpanKind.AMOUNT and span.amount and (time := total(span.amount, (Dimension.TIME,))):
            return time.to("min"), True
        if span.kind is SpanKind.NUMBER and span.amount:
            return Measure(value=float(span.amount.parts[0][0].value), unit="min"), True
    return None, True


def lot_number(hearing: MatchContext, spans: Sequence[TextSpan]) -> str | None:
    """The number of a lot; what may be a row is none where no lot is named: "number eight hasn't gone down"."""
    number = _lot_number(hearing, spans)
    named = hearing.says(hearing.vocabulary.loose.mentions.get(Report.LOT, ()), (span.start for span in spans))
    is_row = number is not None and number.isdigit() and int(number) in hearing.every_row
    return None if is_row and not named else number


def _lot_number(hearing: MatchContext, spans: Sequence[TextSpan]) -> str | None:
    if code := code_in(said_in(hearing, spans)):
        return code
    lots = [
        (match.end - span.start, str(capture.value))
        for span in spans
        for match in hearing.matcher.rule("lot_number", span.start)
        for capture in match.captures
        if any(sign.isdigit() for sign in str(capture.value))
    ]
    return max(lots)[1] if lots else None


def lot_of_refill(hearing: MatchContext, spans: Sequence[TextSpan]) -> str | None:
    for place, span in enumerate(spans):
        if span.key in hearing.vocabulary.loose.lot:
            return _lot_number(hearing, spans[place + 1 : place + 3])
    return None
