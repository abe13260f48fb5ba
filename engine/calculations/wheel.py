"""The drive wheel: calibrating at a standstill by turning it as often as it turns over the course.

The rolling circumference is measured in that field with hoppers filled, so that sinking and slip are in it.
"""

from __future__ import annotations

from dataclasses import dataclass

from engine.calculations.catalogue import formula
from engine.calculations.domain import counted, expressed, not_negative, number, positive, whole
from engine.calculations.kinds import Area, AreaRate, Length, Mass, PerRow, Ratio
from engine.quantities import quantity


@dataclass(frozen=True)
class WheelTurns:
    """Whole turns that cover the course, the course they stand for, and the turns to the fraction."""

    turns: int
    course: Length
    exact: Ratio


@formula("rolling-circumference", sources=("ROW-IDENTITIES", "TRADE"))
def rolling_circumference(course: Length, turns: int) -> Length:
    """Rolling circumference of the drive wheel, C = L / n [ft, m], from n whole turns over L driven in the field.

    ``course`` above zero, ``turns`` at least 1. Errors: OutOfDomain. Sources: ROW-IDENTITIES, TRADE.
    """
    return expressed(positive("course", course) / counted("turns", turns), "m")


@formula("wheel-turns", sources=("ROW-IDENTITIES", "TRADE"))
def wheel_turns(course: Length, circumference: Length) -> WheelTurns:
    """Turns of the drive wheel over a course, n = L / C; whole turns are rounded up, with the course they stand for.

    ``course`` L and rolling ``circumference`` C [ft, m] above zero. Errors: OutOfDomain.
    Sources: ROW-IDENTITIES, TRADE.
    """
    exact = number(positive("course", course) / positive("circumference", circumference))
    turns = whole(exact)
    return WheelTurns(turns, expressed(turns * circumference, "m"), quantity(exact, "1"))


@formula("turned-course", sources=("ROW-IDENTITIES", "SHL-DRILL"))
def turned_course(turns: int, circumference: Length) -> Length:
    """Course that turns of the drive wheel stand for, L = n C [ft, m].

    ``turns`` at least 1, rolling ``circumference`` C [ft, m] above zero. Errors: OutOfDomain.
    Sources: ROW-IDENTITIES, SHL-DRILL.
    """
    return expressed(counted("turns", turns) * positive("circumference", circumference), "m")


@formula("turned-area", sources=("SHL-DRILL", "FL-43"))
def turned_area(turns: int, circumference: Length, width: Length) -> Area:
    """Area that turns of the drive wheel stand for, A = n C w [acre, ha, ft2].

    ``turns`` at least 1, ``circumference`` C [ft, m] and ``width`` w [ft, in, m] above zero. Errors: OutOfDomain.
    Sources: SHL-DRILL, FL-43.
    """
    return expressed(turned_course(turns, circumference) * positive("width", width), "ha")


@formula("stationary-rate", sources=("FL-43", "SHL-DRILL"))
def stationary_rate(caught: Mass, turns: int, circumference: Length, width: Length) -> AreaRate:
    """Rate from a catch at a standstill, R = m / (n C w) [lb/acre, kg/ha].

    ``caught`` m [g, lb] zero or above over ``turns`` n, at least 1; ``circumference`` C and ``width`` w [ft, m] that
    the caught outlets serve above zero. Errors: OutOfDomain. Sources: FL-43, SHL-DRILL.
    """
    return expressed(not_negative("caught", caught) / turned_area(turns, circumference, width), "kg/ha")


@formula("catches-over-course", sources=("ROW-IDENTITIES",))
def catches_over_course(caught: PerRow[Mass], driven: Length, course: Length) -> PerRow[Mass]:
    """Catches as they would be over another course, m' = m L / L', so that all methods feed one model [g, oz].

    ``caught`` m of each row over ``driven`` L' [ft, m], or over the turned course of a standing planter; ``course`` L.
    Valid: catches zero or above, lengths above zero. Errors: OutOfDomain. Source: ROW-IDENTITIES.
    """
    times = number(positive("course", course) / positive("driven", driven))
    return {row: expressed(not_negative(f"row {row}", one) * times, "g") for row, one in caught.items()}


@formula("wheel-slip", sources=("SLIP",))
def wheel_slip(course: Length, turns: int, circumference: Length) -> Ratio:
    """Slip of the drive wheel in the field, s = 1 - L / (n C): the share of its turns that moved nothing.

    ``course`` L driven [ft, m], ``turns`` n counted, at least 1; ``circumference`` C [ft, m] rolled on firm ground.
    Valid: lengths above zero; slip is below zero where the wheel skids. Errors: OutOfDomain.
    Source: SLIP.
    """
    return quantity(1 - number(positive("course", course) / turned_course(turns, circumference)), "1")
