"""What all rows do together from run to run: product that takes up moisture, or settles, moves every catch alike."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import median, pstdev
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import number, positive, tolerance_of
from engine.calculations.kinds import EveryRun, Mass, Ratio, Speed
from engine.calculations.meter import Meter, exponent_of
from engine.calculations.runs.drive import MEDIAN
from engine.quantities import quantity
from engine.values import Setting

LEAST_ROWS = 3
"""Fewer rows at unchanged settings show nothing of all rows (own decision)."""
NOISE = 0.02
"""Least standard deviation of a difference of two catches in log output (own decision): few rows may agree by luck."""
UNKNOWN = 0.5
"""Speed exponent taken for a meter that is not known, and its deviation: half of what speed can do (own decision)."""


@dataclass(frozen=True)
class CommonTrend:
    """By how much all rows changed since run ``since``; none = that is small, or not surer than chance.

    ``change`` is relative to the first of these runs, 0 where nothing can be compared.
    """

    outcome: Literal["none", "falling", "rising"]
    change: Ratio
    since: int


@dataclass(frozen=True)
class _Step:
    """Change of all rows from one run to the next in log output, and its standard error."""

    change: float
    error: float


@formula("common-trend", sources=("FAULT-LOGIC", "NORMAL-MEAN", "SPEED-LAW"))
def common_trend(
    caught: EveryRun[Mass],
    settings: EveryRun[Setting],
    tolerance: Ratio,
    speeds: EveryRun[Speed] | None = None,
    meter: Meter | None = None,
) -> CommonTrend:
    """Change that the rows share, run by run from the medians of ln(c2 / c1) of the rows whose dial did not move.

    The changes of the runs since the last in which fewer than three rows stayed as they were add up, and so do the
    squares of the errors of their medians, 1.253 s / sqrt(n). ``speeds`` [mph, km/h] of the runs are made up for by the
    ``meter``. Something is said from half the ``tolerance`` [%] on and from twice the error.
    ``caught`` [g, oz] at ``settings``. Valid: catches zero or above, tolerance above 0 and below 100 %.
    Errors: OutOfDomain. Sources: FAULT-LOGIC, NORMAL-MEAN, SPEED-LAW.
    """
    steps: list[_Step] = []
    for later in range(len(caught) - 1, 0, -1):
        step = _step(caught, settings, speeds, meter, later)
        if step is None:
            break
        steps.append(step)
    change, error = sum(one.change for one in steps), math.hypot(*(one.error for one in steps))
    told = abs(math.expm1(change)) >= tolerance_of(tolerance) / 2 and abs(change) >= 2 * error
    outcome: Literal["falling", "rising"] = "falling" if change < 0 else "rising"
    since = len(caught) - len(steps)
    return CommonTrend(outcome if told and steps else "none", quantity(math.expm1(change), "1"), max(since, 1))


def _step(
    caught: EveryRun[Mass],
    settings: EveryRun[Setting],
    speeds: EveryRun[Speed] | None,
    meter: Meter | None,
    later: int,
) -> _Step | None:
    """The change from the run before to this one; None where too few rows can be compared."""
    changes, pace = [], 0.0
    exponent = UNKNOWN if meter is None else number(exponent_of(meter))
    for row, one in caught[later].items():
        before = caught[later - 1].get(row)
        if before is None or settings[later].get(row) != settings[later - 1].get(row):
            continue
        if one.magnitude <= 0 or before.magnitude <= 0:
            continue
        pace = _pace(speeds, row, later)
        changes.append(math.log(number(one / before)) + pace * exponent)
    if len(changes) < LEAST_ROWS:
        return None
    spread = max(pstdev(changes), NOISE)
    doubt = UNKNOWN * abs(pace) if meter is None else 0.0
    return _Step(median(changes), math.hypot(MEDIAN * spread / math.sqrt(len(changes)), doubt))


def _pace(speeds: EveryRun[Speed] | None, row: int, later: int) -> float:
    """ln of the speed of a run against that of the run before; 0 where either is not known."""
    if not speeds or later >= len(speeds) or row not in speeds[later] or row not in speeds[later - 1]:
        return 0.0
    return math.log(number(positive("speeds", speeds[later][row]) / positive("speeds", speeds[later - 1][row])))
