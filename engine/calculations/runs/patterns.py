"""Fault patterns: which rows are off, by how much, always or now and then, and the check to make next.

Repeats of one setting show scatter within a row that the noise of catching does not explain.

A catch is taken as caught = (1 + p) x target + b: a share p comes from speed, slip, course, density or the setting, a
mass b from the tare. Over one course the two look alike; over a course twice as long the share stays and b / target
halves. Every formula here compares with what the noise of single catches would do by itself.
"""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.distribution import chi_square_value
from engine.calculations.domain import at_most, not_negative, number, positive, share, tolerance_of
from engine.calculations.kinds import EveryRun, Mass, PerRow, Ratio
from engine.calculations.meter import NOISE
from engine.calculations.runs.uniformity import farthest_row
from engine.errors import OutOfDomain
from engine.quantities import magnitude, quantity

SURE = 2.0
"""A figure this many standard deviations from nothing is taken as real: about one false alarm in twenty."""

OUTLYING = 3.0
"""One row among many is taken as different only this many standard deviations from the rest."""
FALSE_ALARM = 0.01
"""How often scatter that is only noise is called a fault."""

GRAIN = 12**-0.5
"""Standard deviation of a reading rounded to one step."""


class NextCheck(StrEnum):
    """What to look at next."""

    NOTHING = "nothing"
    LOOK_AT_ROW = "look_at_row"
    DOUBLE_COURSE = "double_course"
    SET_EACH_ROW = "set_each_row"
    SPEED_SLIP_COURSE_DENSITY = "speed_slip_course_density"
    WEIGH_EMPTY_CONTAINERS = "weigh_empty_containers"
    CATCH_AGAIN = "catch_again"
    MEASURE_DENSITY = "measure_density"


@dataclass(frozen=True)
class FaultPattern:
    """What one run shows: the share by which the rows are off in the middle, and the row farthest from that middle.

    ``all_alike`` leaves open whether by a share or by a mass: the next check tells.
    """

    outcome: Literal["none", "one_row", "all_alike", "mixed"]
    check: NextCheck
    shift: Ratio
    row: int
    apart: Ratio


@dataclass(frozen=True)
class TwoCourses:
    """What two courses show: the common share and the common mass, and how far off each course was by itself."""

    outcome: Literal["none", "same_percent", "same_mass", "both"]
    check: NextCheck
    percent: Ratio
    mass: Mass
    short_off: Ratio
    long_off: Ratio


@dataclass(frozen=True)
class RefillShift:
    """What a refill changed: the shift in the middle of all rows, and the row farthest from that middle."""

    outcome: Literal["unchanged", "all_shifted", "one_row"]
    check: NextCheck
    shift: Ratio
    row: int
    apart: Ratio


@formula("fault-pattern", sources=("FAULT-LOGIC", "GA-2020", "TRADE"))
def fault_pattern(caught: PerRow[Mass], target: Mass, tolerance: Ratio, noise: Ratio = NOISE) -> FaultPattern:
    """Pattern of one run: shift = median of caught / target - 1, a row's apart = its own less the shift.

    none = every row within ``tolerance`` [%] of ``target`` [g, oz]. all_alike = the shift passes two standard
    deviations of a median of catches with ``noise`` [%], and no row is apart by more than the tolerance or three
    deviations of one catch, whichever is more. one_row = one row alone is off. The rest is mixed: set each row.
    Valid: three rows or more, catches zero or above, the rest above zero, tolerance below 100 %. Errors: OutOfDomain.
    Sources: FAULT-LOGIC, GA-2020, TRADE.
    """
    limit = tolerance_of(tolerance)
    off = {row: one - 1 for row, one in _shares(caught, dict.fromkeys(caught, positive("target", target))).items()}
    shift, row, apart = _middle(off)
    alike = max(limit, OUTLYING * number(share("noise", noise)))
    beyond = sum(not at_most(abs(one), limit) for one in off.values())
    together = not at_most(abs(shift), SURE * _of_median(number(noise), len(off))) and at_most(abs(apart), alike)
    outcome, check = _pattern(beyond, together)
    return FaultPattern(outcome, check, quantity(shift, "1"), row, quantity(apart, "1"))


def _pattern(beyond: int, together: bool) -> tuple[Literal["none", "one_row", "all_alike", "mixed"], NextCheck]:
    if beyond == 0:
        return "none", NextCheck.NOTHING
    if together:
        return "all_alike", NextCheck.DOUBLE_COURSE
    return ("one_row", NextCheck.LOOK_AT_ROW) if beyond == 1 else ("mixed", NextCheck.SET_EACH_ROW)


def _of_median(noise: float, rows: int) -> float:
    """Standard deviation of the median of so many values with normal noise."""
    return noise * math.sqrt(math.pi / 2 / rows)


@formula("two-courses", sources=("FAULT-LOGIC", "TRADE"))
def two_courses(
    short_caught: PerRow[Mass], short_target: Mass, long_caught: PerRow[Mass], long_target: Mass, noise: Ratio = NOISE
) -> TwoCourses:
    """Tell a share from a mass by two courses: p = (c2 - c1) / (t2 - t1) - 1, b = c1 - (1 + p) t1, c means of the rows.

    ``short_target`` t1 and ``long_target`` t2 [g, oz] are the targets of the two courses, the second best twice the
    first. Each of p and b is real beyond two standard deviations from ``noise`` [%] per catch. A share asks for speed,
    slip, course and density, a mass for the weight of the empty containers.
    Valid: the same rows in both, catches zero or above, targets above zero, the long one above the short one.
    Errors: OutOfDomain. Sources: FAULT-LOGIC, TRADE.
    """
    _same_rows(short_caught, long_caught)
    first, second = _grams("short_target", short_target), _grams("long_target", long_target)
    if second <= first:
        raise OutOfDomain("long_target", f"{second:.6g} g", "it must be more than that of the short course")
    short, long = _mean(short_caught), _mean(long_caught)
    percent = (long - short) / (second - first) - 1
    mass = short - (1 + percent) * first
    single = number(share("noise", noise)) / math.sqrt(len(short_caught)) / (second - first)
    by_share = not at_most(abs(percent), SURE * single * math.hypot(first, second))
    by_mass = not at_most(abs(mass), SURE * single * math.sqrt(2) * first * second)
    outcome, check = _COURSES[by_share, by_mass]
    ratios = [quantity(one, "1") for one in (percent, short / first - 1, long / second - 1)]
    return TwoCourses(outcome, check, ratios[0], quantity(mass, "g"), ratios[1], ratios[2])


_COURSES: dict[tuple[bool, bool], tuple[Literal["none", "same_percent", "same_mass", "both"], NextCheck]] = {
    (False, False): ("none", NextCheck.NOTHING),
    (True, False): ("same_percent", NextCheck.SPEED_SLIP_COURSE_DENSITY),
    (False, True): ("same_mass", NextCheck.WEIGH_EMPTY_CONTAINERS),
    (True, True): ("both", NextCheck.WEIGH_EMPTY_CONTAINERS),
}


@formula("refill-shift", sources=("FAULT-LOGIC", "TRADE"))
def refill_shift(before: PerRow[Mass], after: PerRow[Mass], noise: Ratio = NOISE) -> RefillShift:
    """What a refill changed, by catches before and after it at the same settings: shift = median of after / before - 1.

    All rows shifted when the shift passes two standard deviations of a median of such ratios and no row is apart by
    more than three of a single one, from ``noise`` [%] per catch: a new lot or bulk density. A row that far apart is
    that row's own fault.
    Valid: the same three rows or more in both, before above zero, after zero or above [g, oz]. Errors: OutOfDomain.
    Sources: FAULT-LOGIC, TRADE.
    """
    _same_rows(before, after)
    shift, row, apart = _middle({row: one - 1 for row, one in _shares(after, before).items()})
    single = math.sqrt(2) * number(share("noise", noise))
    outcome: Literal["unchanged", "all_shifted", "one_row"] = "unchanged"
    check = NextCheck.NOTHING
    if not at_most(abs(apart), OUTLYING * single):
        outcome, check = "one_row", NextCheck.LOOK_AT_ROW
    elif not at_most(abs(shift), SURE * _of_median(single, len(after))):
        outcome, check = "all_shifted", NextCheck.MEASURE_DENSITY
    return RefillShift(outcome, check, quantity(shift, "1"), row, quantity(apart, "1"))


def _shares(caught: PerRow[Mass], wanted: PerRow[Mass]) -> dict[int, float]:
    if len(caught) < 3:
        raise OutOfDomain("rows", len(caught), "a pattern needs at least three")
    return {
        row: number(not_negative(f"row {row}", one) / positive(f"row {row}", wanted[row]))
        for row, one in caught.items()
    }


def _middle(off: dict[int, float]) -> tuple[float, int, float]:
    """The median, the row farthest from it and how far."""
    shift = statistics.median(off.values())
    row = farthest_row({row: one - shift for row, one in off.items()})
    return shift, row, off[row] - shift


def _same_rows(one: PerRow[Mass], other: PerRow[Mass]) -> None:
    if set(one) != set(other):
        raise OutOfDomain("row", min(set(one) ^ set(other)), "it was caught only once of two times")


def _mean(caught: PerRow[Mass]) -> float:
    if not caught:
        raise OutOfDomain("rows", len(caught), "there must be at least one")
    return statistics.fmean(magnitude(not_negative(f"row {row}", one), "g") for row, one in caught.items())


def _grams(argument: str, mass: Mass) -> float:
    return magnitude(positive(argument, mass), "g")


# ---------------------------------------------------------------- repeats of one setting


@dataclass(frozen=True)
class Scatter:
    """Scatter of repeated catches as a share, what noise and scale step explain, and the row that scatters most."""

    outcome: Literal["repeatable", "coarse_scale", "scattered"]
    check: NextCheck
    scatter: Ratio
    explained: Ratio
    row: int


@formula("scatter", sources=("CHI-SQUARE", "FAULT-LOGIC", "TRADE"))
def scatter(caught: EveryRun[Mass], scale_step: Mass, noise: Ratio = NOISE) -> Scatter:
    """Scatter of catches repeated at one setting, s^2 = sum of ((m - mean of row) / mean of row)^2 / (catches - rows).

    Scattered when s^2 (catches - rows) / explained^2 passes the chi-square quantile for one false alarm in a hundred;
    explained^2 = ``noise``^2 [%] + (step / sqrt(12) / mean)^2 with ``scale_step`` [g, oz]. A coarse scale is one whose
    step explains more than the noise: then the catch, not the row, is to be made better.
    Valid: at least one row caught twice, those catches above zero [g, oz]. Errors: OutOfDomain.
    Sources: CHI-SQUARE, FAULT-LOGIC, TRADE.
    """
    repeats = _repeats(caught)
    means = {row: statistics.fmean(grams) for row, grams in repeats.items()}
    squares = {row: sum((one / means[row] - 1) ** 2 for one in grams) for row, grams in repeats.items()}
    freedom = sum(len(grams) - 1 for grams in repeats.values())
    grain = GRAIN * magnitude(positive("scale_step", scale_step), "g") / statistics.fmean(means.values())
    usual = number(share("noise", noise))
    explained = usual**2 + grain**2
    total = sum(squares.values())
    outcome, check = _judged(at_most(total / explained, chi_square_value(freedom, FALSE_ALARM)), at_most(grain, usual))
    worst = min(squares, key=lambda row: (-squares[row] / (len(repeats[row]) - 1), row))
    return Scatter(outcome, check, quantity((total / freedom) ** 0.5, "1"), quantity(explained**0.5, "1"), worst)


def _judged(explained: bool, fine: bool) -> tuple[Literal["repeatable", "coarse_scale", "scattered"], NextCheck]:
    if not explained:
        return "scattered", NextCheck.CATCH_AGAIN
    return ("repeatable", NextCheck.NOTHING) if fine else ("coarse_scale", NextCheck.DOUBLE_COURSE)


def _repeats(caught: EveryRun[Mass]) -> dict[int, list[float]]:
    """Grams of every row that was caught at least twice."""
    every: dict[int, list[float]] = {}
    for run in caught:
        for row, one in run.items():
            every.setdefault(row, []).append(magnitude(positive(f"row {row}", one), "g"))
    repeats = {row: grams for row, grams in every.items() if len(grams) >= 2}
    if not repeats:
        raise OutOfDomain("rows", len(repeats), "at least one must be caught twice at one setting")
    return repeats
