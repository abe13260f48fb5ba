"""When to look next: chosen by what may be lost, not by habit. Pure: no clock, no database.

No published figure says how often to look at hoppers while planting, so the grower says how many acres may be lost
and everything follows from that. The 80 % and the shorter looks by night are our choice (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from functools import cached_property

from engine.calculations.coverage import work_rate
from engine.calculations.domain import expressed, not_negative, number, positive, share
from engine.calculations.kinds import Area, AreaRate, Length, Mass, PerRow, Ratio, Speed, Time
from engine.errors import OutOfDomain
from engine.quantities import magnitude, quantity

RUN_OUT_SHARE = 0.8


class Decider(StrEnum):
    """What set the interval: acres of the machine that may be lost, the middle of a filling, a hopper that runs out,
    the grower's own limit, or the floor."""

    ACRES = "acres"
    FILLING = "filling"
    RUN_OUT = "run_out"
    OWN = "own"
    FLOOR = "floor"


class Strain(StrEnum):
    """Why looks come closer together: the hour, or a long time on shift."""

    LATE = "late"
    LONG = "long"


@dataclass(frozen=True)
class PlantingPace:
    """How fast the machine plants: ``width`` of the whole machine, ``efficiency`` working time over time in field."""

    speed: Speed
    width: Length
    efficiency: Ratio

    def area(self, length: timedelta) -> Area:
        """Area planted in this time [acre, ha]."""
        return quantity(self._acres_per_second * length.total_seconds(), "acre")

    def time(self, area: Area) -> timedelta:
        """Time in which this area is planted."""
        acres = magnitude(positive("area", area), "acre")
        return _whole(acres / self._acres_per_second)

    @cached_property
    def _acres_per_second(self) -> float:
        """Worked out once: a night asks for it at every look."""
        worked: Area = work_rate(self.width, self.speed, self.efficiency) * quantity(1, "s")
        return magnitude(worked, "acre")


def run_out(left: PerRow[Mass], rate: AreaRate, spacing: Length, speed: Speed, efficiency: Ratio) -> Mapping[int, Time]:
    """Time until each hopper is empty, t = left / (R s v e) [min], one hopper per row of ``spacing`` s.

    ``left`` [lb, kg] zero or above, ``rate`` R [lb/acre, kg/ha] above zero. Errors: OutOfDomain.
    """
    use = positive("rate", rate) * work_rate(spacing, speed, efficiency)
    return {row: expressed(not_negative("left", mass) / use, "min") for row, mass in left.items()}


def first_run_out(
    left: PerRow[Mass], rate: AreaRate, pace: PlantingPace, spacing: Length
) -> tuple[int, timedelta] | None:
    """The row whose hopper is empty first, and the time until then; None without rows.

    All hoppers feed alike, so it is the one that holds least. Errors: OutOfDomain.
    """
    if not left:
        return None
    row = min(left, key=lambda row: (magnitude(left[row], "kg"), row))
    return row, _length(run_out({row: left[row]}, rate, spacing, pace.speed, pace.efficiency)[row])


@dataclass(frozen=True)
class AcreReport:
    """What an operator said was planted in some time in the field."""

    area: Area
    length: timedelta


def learned_efficiency(
    believed: Ratio,
    reports: tuple[AcreReport, ...],
    speed: Speed,
    width: Length,
    weight: timedelta = timedelta(hours=3),
) -> Ratio:
    """Field efficiency after the operator's own reports: area planted over area at full speed, by hours [%].

    ``believed`` counts as ``weight`` hours of reports (our choice, no source), so that one odd report does not carry it
    away; the answer is at most 100 %. Errors: OutOfDomain.
    """
    hours = weight + sum((report.length for report in reports), timedelta())
    full = work_rate(width, speed, quantity(100, "%"))
    worth = number(share("believed", believed)) * weight
    for report in reports:
        worth += _length(not_negative("area", report.area) / full)
    if hours <= timedelta():
        raise OutOfDomain("weight", weight, "there must be some time to learn from")
    return quantity(min(worth / hours, 1.0) * 100, "%")


def _length(amount: Time) -> timedelta:
    return _whole(magnitude(amount, "s"))


def _whole(seconds: float) -> timedelta:
    """Whole microseconds, rounded down: a look may be early, not late."""
    return timedelta(microseconds=math.floor(seconds * 1e6))
