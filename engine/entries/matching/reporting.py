"""What a matched sentence reports: the report with the rows, amount, lot and moment that were said in it."""

from __future__ import annotations

from typing import assert_never

from engine.clock import Ago, ClockTime, Moment
from engine.entries.matching.clock_phrases import moment_of
from engine.entries.matching.numeral import Numeral
from engine.entries.phrases.match import Match
from engine.messages import Report, Reported
from engine.quantities import Measure


def size(match: Match) -> tuple[bool, int]:
    """A lot goes on for as long as it can: "lot four four seven four bags" is four bags of lot 447. A name ends where
    the size of what it names begins: "new field West forty acres"."""
    said = [(name, value) for name, value in match.captures if isinstance(value, str)]
    lot = max((len(value) for name, value in said if name == "lot"), default=0)
    called = max((len(value) for name, value in said if name == "called"), default=0)
    sized = any(name == "area" for name, _ in match.captures)
    return sized, lot - called if sized else lot


def reported(report: Report, match: Match, said: str, every: set[int]) -> Reported | None:
    """The report with what was said in it; None where a number in it cannot be meant."""
    rows: tuple[int, ...] = ()
    given: dict[str, object] = {}
    if report is Report.SNOOZED and (moment := moment_of(match.captures)) is not None:
        return _put_off(moment, said)
    for name, value in match.captures:
        if name == "row" and isinstance(value, int):
            rows = (value,)
        elif name == "rows" and isinstance(value, tuple):
            rows = () if set(value) == every else value
        elif name == "lot" and isinstance(value, str):
            given |= {"value": value} if report is Report.LOT else {"lot": value}
        elif name == "rest":
            given |= {"rest": report is not Report.GOOD}
        elif name == "area" and report is Report.FIELD:
            given |= {"area": value}
        elif name in ("each", "together", "full"):
            given |= {name: value}
        elif isinstance(value, Numeral):
            if value.unsaid:
                return None
            given |= {"value": _counted(report, float(value.value))}
        else:
            given |= {"value": value}
    return Reported.model_validate({"report": report, "rows": rows, "said": said, **given})


def _put_off(moment: Moment, said: str) -> Reported:
    """Later: at a time of day, or by a length of time, in minutes however it was said."""
    match moment:
        case ClockTime():
            return Reported(report=Report.SNOOZED, when=moment, said=said)
        case Ago(length=length):
            return Reported(report=Report.SNOOZED, value=length.to("min"), said=said)
        case _:
            assert_never(moment)


def _counted(report: Report, number: float) -> Measure:
    """A number without its unit: minutes of a snooze, else bags."""
    return Measure(value=number, unit="min" if report is Report.SNOOZED else "1")
