"""Repeats of one setting: scatter within a row that the noise of catching does not explain."""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.distribution import chi_square_value
from engine.calculations.domain import at_most, number, positive, share
from engine.calculations.kinds import EveryRun, Mass, Ratio
from engine.calculations.meter import NOISE
from engine.calculations.runs.patterns import NextCheck
from engine.errors import OutOfDomain
from engine.quantities import magnitude, quantity

FALSE_ALARM = 0.01
"""How often scatter that is only noise is called a fault."""

GRAIN = 12**-0.5
"""Standard deviation of a reading rounded to one step."""


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
