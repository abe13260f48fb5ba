"""Wear: a row that needs more setting every season for what the middle row of the same runs gives.

What moves all rows alike, such as product, speed or weather, is in the middle of the run as well and drops out; what a
dial position gives is taken from the nominal curve of ``engine.calculations.advisor.response``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import fmean, median
from typing import Literal

import numpy as np

from engine.calculations.advisor.response import Nominal
from engine.calculations.catalogue import formula
from engine.calculations.distribution import student_value
from engine.calculations.domain import not_negative
from engine.calculations.kinds import EveryRun, Mass, PerRow, Ratio
from engine.errors import InputError
from engine.quantities import magnitude, quantity
from engine.values import Dial, Setting

SEASONS = 3
"""Seasons before anything is called a trend (own decision): two points lie on every line."""
LEAST_ROWS = 3
"""Fewer rows have no middle to be apart from."""
FAR = math.log(1.6)
"""A catch so far from the middle of its run shows a row that bridged, nothing of its meter (own decision)."""
RISK = 0.05
"""Chance that any row of a machine whose rows all stay as they are is called rising or falling (own decision)."""
WORTH = 0.01
"""Drift a season from which on it is told (own decision): less is lost in a notch."""
STEADY = 0.02
"""Where the whole interval lies within so much a season, the row is called steady (own decision)."""

NOISE = 0.01
"""Least standard deviation of the need of a season (own decision): rows that were read alike may agree by luck."""


class Drift(StrEnum):
    """What the seasons of a row show; too little data = the interval is too wide for any of the others."""

    RISING = "rising"
    FALLING = "falling"
    STEADY = "steady"
    TOO_LITTLE_DATA = "too_little_data"


@dataclass(frozen=True)
class Wear:
    """What each row needs more each season, as a ratio with its interval; ``row`` is the one whose need rises most.

    The outcome is that of ``row``. Rows without three seasons have no figures. ``seasons`` is how many each has.
    """

    outcome: Literal["rising", "falling", "steady", "too_little_data"]
    row: int
    drifts: PerRow[Drift]
    change: PerRow[Ratio]
    low: PerRow[Ratio]
    high: PerRow[Ratio]
    seasons: PerRow[int]


@dataclass(frozen=True)
class _Line:
    """A least-squares line: slope, sum of squares about the middle of its seasons, and of what the line leaves."""

    slope: float
    wide: float
    left: float
    spare: int


@formula("wear", sources=("FAULT-LOGIC", "TREND", "RESPONSE"))
def wear(caught: EveryRun[Mass], settings: EveryRun[Setting], dial: Dial, seasons: EveryRun[int]) -> Wear:
    """Change a season of what each row needs, least-squares slope over seasons of its mean need against the machine.

    The need of a row in a run is g(setting) - ln(caught) less the middle of all rows in that run, g the nominal curve
    of the dial. Runs in which fewer than three rows, or fewer than half, were caught show no middle. What the lines
    leave is pooled over the rows, since they are alike; a row that scatters more has its own, and 1 % is the least.
    Interval: slope -+ t s / sqrt(sum (season - mean)^2), t so that a false rise or fall in any row has a chance of 5 %.
    Rising or falling: zero lies outside of it, and 1 % a season or more; steady: all of it within 2 % a season.
    ``caught`` [g, oz] at ``settings`` in ``seasons`` [years], run by run; a run that does not count for a row, such as
    one before it was rebuilt, is left out for it. What wears in all rows alike cannot be seen.
    Valid: catches zero or above, all of one product, rate and ``dial``. Errors: OutOfDomain; InputError where no run
    has a row. Sources: FAULT-LOGIC, TREND, RESPONSE.
    """
    points = by_season(caught, settings, dial, seasons)
    if not points:
        raise InputError("no row was caught in any run")
    lines = {row: _line(of) for row, of in points.items() if len(of) >= SEASONS}
    spans = {row: _span(line, lines) for row, line in lines.items()}
    found = {row: _drift(spans[row]) if row in spans else Drift.TOO_LITTLE_DATA for row in points}
    order = {Drift.RISING: 0, Drift.FALLING: 1, Drift.STEADY: 2, Drift.TOO_LITTLE_DATA: 3}
    row = min(points, key=lambda row: (order[found[row]], -abs(spans[row][1]) if row in spans else 0, row))
    outcome: Literal["rising", "falling", "steady", "too_little_data"] = found[row].value
    low, change, high = (
        {row: quantity(math.expm1(span[place]), "1") for row, span in spans.items()} for place in range(3)
    )
    return Wear(outcome, row, found, change, low, high, {row: len(of) for row, of in points.items()})


def by_season(
    caught: EveryRun[Mass], settings: EveryRun[Setting], dial: Dial, seasons: EveryRun[int]
) -> dict[int, dict[int, float]]:
    """The need of each row against the machine in each season, in natural logarithms of the setting, by row."""
    every = max((len(run) for run in caught), default=0)
    found: dict[int, dict[int, list[float]]] = {}
    for run, at, years in zip(caught, settings, seasons, strict=True):
        for row, need in _needs(run, at, dial, max(LEAST_ROWS, every / 2)).items():
            if row in years:
                found.setdefault(row, {}).setdefault(years[row], []).append(need)
    return {
        row: {season: fmean(of) for season, of in sorted(each.items())} for row, each in sorted(found.items()) if each
    }


def _needs(run: PerRow[Mass], at: PerRow[Setting], dial: Dial, least: float) -> dict[int, float]:
    """What each row of a run needs against the middle one; nothing where too few were caught."""
    grams = {row: magnitude(not_negative("caught", one), "g") for row, one in run.items()}
    rows = [row for row, one in grams.items() if one > 0 and row in at]
    if len(rows) < least:
        return {}
    nominal = Nominal(dial, median(at[row].position for row in rows))
    places = nominal.place(np.array([at[row].position for row in rows]))
    needs = {row: float(place) - math.log(grams[row]) for row, place in zip(rows, places, strict=True)}
    middle = median(needs.values())
    return {row: need - middle for row, need in needs.items() if abs(need - middle) <= FAR}


def _line(points: Mapping[int, float]) -> _Line:
    seasons, needs = np.array([*points]), np.array([*points.values()])
    apart = seasons - seasons.mean()
    wide = float(apart @ apart)
    slope = float(apart @ needs) / wide
    left = needs - needs.mean() - slope * apart
    return _Line(slope, wide, float(left @ left), len(points) - 2)


def _span(line: _Line, lines: Mapping[int, _Line]) -> tuple[float, float, float]:
    """Low, middle and high of a slope. Against the middle of n rows, (n - 1) / n of what is left to chance remains."""
    rows = len(lines)
    spare = max(sum(one.spare for one in lines.values()) * (rows - 1) / rows, 1.0)
    scatter = max(sum(one.left for one in lines.values()) / spare, line.left / line.spare, NOISE**2)
    reach = student_value(spare, 1 - RISK / (2 * rows)) * math.sqrt(scatter / line.wide)
    return line.slope - reach, line.slope, line.slope + reach


def _drift(span: Sequence[float]) -> Drift:
    low, middle, high = (math.expm1(one) for one in span)
    if low > 0 and middle >= WORTH:
        return Drift.RISING
    if high < 0 and middle <= -WORTH:
        return Drift.FALLING
    return Drift.STEADY if max(abs(low), abs(high)) <= STEADY else Drift.TOO_LITTLE_DATA
