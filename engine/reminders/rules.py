"""When to look next: chosen by what may be lost, not by habit. Pure: no clock, no database.

No published figure says how often to look at hoppers while planting, so the grower says how many acres may be lost
and everything follows from that. The 80 % and the shorter looks by night are our choice (common practice, no source).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from enum import StrEnum
from functools import cached_property

from engine.calculations.coverage import work_rate
from engine.calculations.domain import expressed, not_negative, number, positive, share
from engine.calculations.kinds import Area, AreaRate, Length, Mass, PerRow, Ratio, Speed, Time
from engine.errors import OutOfDomain
from engine.quantities import quantity

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
class Pace:
    """How fast the machine plants: ``width`` of the whole machine, ``efficiency`` working time over time in field."""

    speed: Speed
    width: Length
    efficiency: Ratio

    def area(self, length: timedelta) -> Area:
        """Area planted in this time [acre, ha]."""
        return quantity(self._acres_per_second * length.total_seconds(), "acre")

    def time(self, area: Area) -> timedelta:
        """Time in which this area is planted."""
        acres = float(expressed(positive("area", area), "acre").magnitude)
        return _whole(acres / self._acres_per_second)

    @cached_property
    def _acres_per_second(self) -> float:
        """Worked out once: a night asks for it at every look."""
        worked: Area = work_rate(self.width, self.speed, self.efficiency) * quantity(1, "s")
        return float(expressed(worked, "acre").magnitude)


@dataclass(frozen=True)
class Caution:
    """What the grower settled once: the area that may be lost, and when looks come closer together.

    From ``late_from`` to ``late_until`` by the clock on the wall, and after ``long_after`` on shift, the interval is
    multiplied by ``tightened_to``, by both where both hold. ``own`` is the longest the grower wants, ``floor`` the
    shortest that makes sense. ``unseen`` is what the machine plants before a stopped row shows (``unseen_area``), and
    ``answer`` how long after a reminder somebody looks: both are lost as well, and come off the area. None: nothing.
    """

    area: Area
    own: timedelta | None = None
    late_from: time | None = time(22)
    late_until: time = time(6)
    long_after: timedelta | None = timedelta(hours=8)
    tightened_to: Ratio = field(default_factory=lambda: quantity(75, "%"))
    floor: timedelta = timedelta(minutes=5)
    unseen: Area | None = None
    answer: timedelta = timedelta()


@dataclass(frozen=True)
class Look:
    """The interval to the next look, what decided it, why it was tightened, and the area planted until then."""

    interval: timedelta
    decided_by: Decider
    tightened: tuple[Strain, ...]
    area: Area


def next_look(
    pace: Pace, caution: Caution, local: datetime, on_shift: timedelta, first_run_out: timedelta | None = None
) -> Look:
    """The earliest of: the area that may be lost is planted, less what goes by unseen and unanswered; 80 % of the time
    to the first empty hopper; the grower's own limit. Then tightened where the look would come late in the night or
    late in the shift, never below the floor.

    ``local`` is now as the clock on the wall shows it, ``on_shift`` the time worked so far. Errors: OutOfDomain.
    """
    bounds = {Decider.ACRES: _spare(pace, caution)}
    if first_run_out is not None:
        bounds[Decider.RUN_OUT] = first_run_out * RUN_OUT_SHARE
    if caution.own is not None:
        bounds[Decider.OWN] = caution.own
    decided_by, interval = min(bounds.items(), key=lambda bound: bound[1])
    tightened = _strains(caution, local, on_shift, interval)
    interval *= number(share("tightened_to", caution.tightened_to)) ** len(tightened)
    if interval < caution.floor:
        decided_by, interval = Decider.FLOOR, caution.floor
    return Look(interval, decided_by, tightened, pace.area(interval))


def run_out(left: PerRow[Mass], rate: AreaRate, spacing: Length, speed: Speed, efficiency: Ratio) -> Mapping[int, Time]:
    """Time until each hopper is empty, t = left / (R s v e) [min], one hopper per row of ``spacing`` s.

    ``left`` [lb, kg] zero or above, ``rate`` R [lb/acre, kg/ha] above zero. Errors: OutOfDomain.
    """
    use = positive("rate", rate) * work_rate(spacing, speed, efficiency)
    return {row: expressed(not_negative("left", mass) / use, "min") for row, mass in left.items()}


def first_run_out(left: PerRow[Mass], rate: AreaRate, pace: Pace, spacing: Length) -> tuple[int, timedelta] | None:
    """The row whose hopper is empty first, and the time until then; None without rows."""
    times = run_out(left, rate, spacing, pace.speed, pace.efficiency)
    if not times:
        return None
    row = min(times, key=lambda row: (times[row].magnitude, row))
    return row, _length(times[row])


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


def _spare(pace: Pace, caution: Caution) -> timedelta:
    """Time in which the area is planted, less what goes by before a stopped row shows and before somebody looks."""
    area = positive("area", caution.area)
    left = area if caution.unseen is None else area - not_negative("unseen", caution.unseen)
    return (pace.time(left) if left.magnitude > 0 else timedelta()) - caution.answer


def _strains(caution: Caution, local: datetime, on_shift: timedelta, interval: timedelta) -> tuple[Strain, ...]:
    late = caution.late_from is not None and _between((local + interval).time(), caution.late_from, caution.late_until)
    long = caution.long_after is not None and on_shift + interval > caution.long_after
    return tuple(strain for strain, holds in ((Strain.LATE, late), (Strain.LONG, long)) if holds)


def _between(moment: time, start: time, end: time) -> bool:
    """Whether a time of day lies in a span that may go over midnight."""
    return start <= moment < end if start <= end else moment >= start or moment < end


def _length(amount: Time) -> timedelta:
    return _whole(float(expressed(amount, "s").magnitude))


def _whole(seconds: float) -> timedelta:
    """Whole microseconds, rounded down: a look may be early, not late."""
    return timedelta(microseconds=math.floor(seconds * 1e6))
