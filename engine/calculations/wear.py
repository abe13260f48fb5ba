"""Wear: a row whose meter needs a higher setting every season than its neighbours."""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import at_most
from engine.calculations.kinds import EveryRun, PerRow, Ratio
from engine.errors import OutOfDomain
from engine.quantities import quantity
from engine.values import Dial, Setting

SEASONS = 3
"""Seasons before a trend is called one. Our choice, no source."""

NOTCHES = 2
"""A rise of fewer notches than this over all seasons is within what settings wander. Our choice, no source."""


@dataclass(frozen=True)
class Wear:
    """Drift of each row against the middle of all rows [notches a season], the row that drifts most, and its rise."""

    outcome: Literal["steady", "worn", "too_few_seasons"]
    drift: PerRow[Ratio]
    row: int
    rise: Ratio


@formula("wear", sources=("FAULT-LOGIC", "TREND"))
def wear(settings: EveryRun[Setting], dial: Dial) -> Wear:
    """Drift of each row over seasons, oldest first: least-squares slope of (notch of its final setting - median).

    ``settings`` of one product and rate on one ``dial``, a run being a season [notches a season]. Worn = the row that
    drifts up most rose in every season and by two notches or more in all. What moves all rows alike is not wear.
    Valid: three rows or more in every season; rows missing in one are left out. Errors: OutOfDomain.
    Sources: FAULT-LOGIC, TREND.
    """
    rows = sorted(set.intersection(*(set(season) for season in settings))) if settings else []
    if len(rows) < 3:
        raise OutOfDomain("rows", len(rows), "the trend needs three that were set in every season")
    places = [_against_the_middle({row: season[row] for row in rows}, dial) for season in settings]
    drift = {row: _slope([season[row] for season in places]) for row in rows}
    row = min(rows, key=lambda row: (-drift[row], row))
    steps = [later[row] - earlier[row] for earlier, later in pairwise(places)]
    worn = all(step > 0 for step in steps) and at_most(NOTCHES, sum(steps))
    outcome: Literal["steady", "worn", "too_few_seasons"] = "worn" if worn else "steady"
    if len(settings) < SEASONS:
        outcome = "too_few_seasons"
    return Wear(outcome, {row: quantity(one, "1") for row, one in drift.items()}, row, quantity(sum(steps), "1"))


def _against_the_middle(season: PerRow[Setting], dial: Dial) -> dict[int, float]:
    notches = {row: (setting.position - dial.low) / dial.step for row, setting in season.items()}
    middle = statistics.median(notches.values())
    return {row: notch - middle for row, notch in notches.items()}


def _slope(places: list[float]) -> float:
    """Least-squares slope over seasons 0, 1, 2 …; 0 for a single one."""
    if len(places) < 2:
        return 0.0
    return statistics.linear_regression(range(len(places)), places).slope
