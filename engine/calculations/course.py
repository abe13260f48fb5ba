"""The measured course: how long it takes, and the ground speed it proves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import expressed, number, positive, side, tolerance_of
from engine.calculations.kinds import Length, Ratio, Speed, Time
from engine.quantities import quantity

SPEED_TOLERANCE = quantity(5, "%")
"""A course driven within this of the planned speed counts as driven at it. Common practice, no source."""


_OUTCOMES: dict[int, Literal["as_planned", "too_fast", "too_slow"]] = {0: "as_planned", 1: "too_fast", -1: "too_slow"}


@dataclass(frozen=True)
class CourseSpeed:
    """The true ground speed, how far off the planned one it is (0.05 is 5 % faster), and whether that matters."""

    outcome: Literal["as_planned", "too_fast", "too_slow"]
    speed: Speed
    off: Ratio


@formula("course-time", sources=("SPEED-IDENTITY", "KY-AEN73"))
def course_time(course: Length, speed: Speed) -> Time:
    """Time over the course at a steady speed, t = L / v [s]. seconds = 60 ft / (88 mph).

    ``course`` L [ft, m], ``speed`` v [mph, km/h]. Valid: both above zero. Errors: OutOfDomain.
    Sources: SPEED-IDENTITY, KY-AEN73.
    """
    return expressed(positive("course", course) / positive("speed", speed), "s")


@formula("true-speed", sources=("SPEED-IDENTITY", "KY-AEN73"))
def true_speed(course: Length, time: Time) -> Speed:
    """Ground speed over a timed course, v = L / t [mph, km/h]. mph = 60 ft / (88 s).

    ``course`` L [ft, m] with a rolling start, ``time`` t [s]. Valid: both above zero. Errors: OutOfDomain.
    Sources: SPEED-IDENTITY, KY-AEN73.
    """
    return expressed(positive("course", course) / positive("time", time), "m/s")


@formula("course-speed", sources=("SPEED-IDENTITY", "KY-AEN73", "TRADE"))
def course_speed(course: Length, time: Time, planned: Speed, tolerance: Ratio = SPEED_TOLERANCE) -> CourseSpeed:
    """Ground speed over a timed course against the planned one: v = L / t, off = v / planned - 1.

    ``course`` L [ft, m], ``time`` t [s], ``planned`` [mph, km/h], ``tolerance`` [%]; exactly at it is as planned.
    Valid: all above zero, tolerance below 100 %. Errors: OutOfDomain. Sources: SPEED-IDENTITY, KY-AEN73, TRADE.
    """
    speed = true_speed(course, time)
    off = speed / positive("planned", planned) - 1
    return CourseSpeed(_OUTCOMES[side(number(off), tolerance_of(tolerance))], speed, off)
