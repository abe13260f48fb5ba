"""The hopper: how long and how far it lasts."""

from __future__ import annotations

import statistics
from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import counted, expressed, not_negative, positive, share, side, tolerance_of
from engine.calculations.kinds import Area, Length, Mass, PerRow, Rate, Ratio, Speed, Time
from engine.calculations.rate import area_rate, rate_along_row
from engine.calculations.runs.uniformity import farthest_row
from engine.errors import OutOfDomain
from engine.quantities import magnitude, quantity

LEVEL = quantity(10, "%")
"""Hoppers read by eye agree within this. Common practice, no source."""


@dataclass(frozen=True)
class RunOut:
    """Time until each hopper is empty, the hopper that is empty first, when, and the row it does until then."""

    times: PerRow[Time]
    first: int
    soonest: Time
    row_length: Length


@formula("hopper-area", sources=("DRAW-CALC", "ROW-IDENTITIES"))
def hopper_area(hopper: Mass, rate: Rate, spacing: Length, rows: int) -> Area:
    """Area the planter does until hoppers with ``hopper`` M each are empty, A = rows M / R [acre, ha].

    ``hopper`` [lb, kg], ``rate`` [lb/acre, kg/ha, oz/1000 ft, g/100 m], ``spacing`` [in, cm]; one hopper a row.
    Valid: all above zero, rows at least 1. Errors: OutOfDomain. Sources: DRAW-CALC, ROW-IDENTITIES.
    """
    return expressed(counted("rows", rows) * positive("hopper", hopper) / area_rate(rate, spacing), "ha")


@formula("run-out", sources=("ROW-IDENTITIES", "ISU-A3-24"))
def run_out(hoppers: PerRow[Mass], rate: Rate, spacing: Length, speed: Speed, efficiency: Ratio) -> RunOut:
    """When each hopper is empty: row done L = M / (R s), time t = L / (v e) [h, min].

    ``hoppers`` M left in each [lb, kg], one a row; ``rate`` R [lb/acre, kg/ha] or along the row; ``spacing`` s [in,
    cm]; ``speed`` v [mph, km/h]; ``efficiency`` e [%], time spent working over time in the field.
    Valid: one hopper or more, each zero or above, the rest above zero, efficiency up to 100 %. Errors: OutOfDomain.
    Sources: ROW-IDENTITIES, ISU-A3-24.
    """
    if not hoppers:
        raise OutOfDomain("hoppers", len(hoppers), "there must be at least one")
    along = rate_along_row(rate, spacing)
    pace = positive("speed", speed) * share("efficiency", efficiency)
    lengths = {row: expressed(not_negative(f"row {row}", one) / along, "m") for row, one in hoppers.items()}
    times = {row: expressed(length / pace, "s") for row, length in lengths.items()}
    first = min(times, key=lambda row: (times[row].magnitude, row))
    return RunOut(times, first, times[first], lengths[first])


_LEVELS: dict[int, Literal["alike", "stays_full", "empties_fast"]] = {0: "alike", 1: "empties_fast", -1: "stays_full"}


@dataclass(frozen=True)
class HopperLevels:
    """The row whose use is farthest from the middle of all, and its use as a share of that middle."""

    outcome: Literal["alike", "stays_full", "empties_fast"]
    row: int
    delivered: Ratio


@formula("hopper-levels", sources=("FAULT-LOGIC", "TRADE"))
def hopper_levels(used: PerRow[Mass], allowed: Ratio = LEVEL) -> HopperLevels:
    """Whether one hopper went down unlike the others: delivered = used / median of all.

    ``used`` of each row [lb, kg] since they were level, ``allowed`` [%]; exactly it is alike. A hopper that stays full
    belongs to a row that feeds too little or stopped; ``delivered`` is what ``suspect-area`` asks for.
    Valid: three rows or more, each zero or above, the median above zero, allowed below 100 %. Errors: OutOfDomain.
    Sources: FAULT-LOGIC, TRADE.
    """
    if len(used) < 3:
        raise OutOfDomain("rows", len(used), "levels are compared among at least three")
    kilograms = {row: magnitude(not_negative(f"row {row}", one), "kg") for row, one in used.items()}
    middle = statistics.median(kilograms.values())
    positive("middle", quantity(middle, "kg"))
    row = farthest_row({row: one / middle - 1 for row, one in kilograms.items()})
    delivered = kilograms[row] / middle
    return HopperLevels(_LEVELS[side(delivered - 1, tolerance_of(allowed, "allowed"))], row, quantity(delivered, "1"))
