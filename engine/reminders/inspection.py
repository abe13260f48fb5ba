"""When the hoppers are looked at next, by the plan the grower chose. Pure: no clock, no database.

All areas are of the whole machine: of each single row it is that over the number of rows. Hoppers are open at every
refill, so a plan says what is looked at between refills. No published figure says how often; the default of once in the
middle of each filling is our choice, from simulated nights (``rowhand shift simulate``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from typing import TypeAlias, assert_never

from engine.calculations.domain import counted, not_negative, number, positive, share
from engine.calculations.kinds import Area, Ratio
from engine.quantities import magnitude, quantity
from engine.reminders.rules import RUN_OUT_SHARE, Decider, PlantingPace, Strain

STRETCH = 0.25
"""The looks of a filling may lie farther apart than planned by this share, before one more is made (own decision)."""
KEPT = 0.5
"""At most this share of the area that may be lost is kept for what a look cannot see: a look that comes too often is
not made (own decision)."""

PACE_DOUBT = 0.15
"""By this share more than reckoned the machine may plant until a look (own decision, from simulated nights): field
efficiency changes within an hour, and breaks are not told."""


@dataclass(frozen=True)
class EachFilling:
    """At refills, and ``between`` times between two of them, evenly by area."""

    between: int = 1


@dataclass(frozen=True)
class RefillsOnly:
    """At refills alone."""


@dataclass(frozen=True)
class WithinArea:
    """So often that a stopped row is found before the machine has planted this ``area`` [acre, ha] with it."""

    area: Area


LookPlan: TypeAlias = EachFilling | RefillsOnly | WithinArea
DEFAULT = EachFilling()


@dataclass(frozen=True)
class Filling:
    """Where the machine stood at the last look: ``planted`` since the hoppers were filled, and ``left`` until the first
    one is empty [acre, ha]."""

    planted: Area
    left: Area


@dataclass(frozen=True)
class Passes:
    """``area`` of one pass, width x length, and what of one was planted already at the last look, ``begun``."""

    area: Area
    begun: Area = field(default_factory=lambda: quantity(0, "acre"))


@dataclass(frozen=True)
class Tightening:
    """Looks come closer from ``late_from`` to ``late_until`` by the clock on the wall and after ``long_after`` on
    shift: the area is multiplied by ``to`` for each. Only where the grower asks for it."""

    late_from: time | None = time(22)
    late_until: time = time(6)
    long_after: timedelta | None = timedelta(hours=8)
    to: Ratio = field(default_factory=lambda: quantity(75, "%"))


@dataclass(frozen=True)
class Limits:
    """What holds whatever the plan: ``own``, the longest time the grower wants; ``floor``, the shortest that makes
    sense; ``unseen``, the area that goes by before a stopped row shows (``unseen_by``); ``answer``, how long after a
    reminder somebody looks."""

    own: timedelta | None = None
    floor: timedelta = timedelta(minutes=5)
    unseen: Area | None = None
    answer: timedelta = timedelta()
    tightening: Tightening | None = None


@dataclass(frozen=True)
class NextLook:
    """From the last look to the next: as time and as ``area`` of the machine; ``passes`` from here on where it lies at
    the end of one, else None; what decided it and why it was tightened."""

    interval: timedelta
    area: Area
    passes: int | None
    decided_by: Decider
    tightened: tuple[Strain, ...] = ()


def next_look(
    pace: PlantingPace,
    plan: LookPlan,
    limits: Limits,
    filling: Filling | None = None,
    passes: Passes | None = None,
    *,
    local: datetime | None = None,
    on_shift: timedelta = timedelta(),
) -> NextLook | None:
    """The earliest of what the plan asks for, 80 % of what the first hopper lasts, and the grower's own longest time,
    put at the end of a pass where that is known; None where nothing asks for a look: contents and own time unknown.

    A look in the middle of a filling goes to the nearest end of a pass, any other to the one before. Without
    ``filling`` a plan by fillings asks for nothing. ``local`` is the last look by the clock on the wall, ``on_shift``
    the time worked until then; only a tightening needs them. Errors: OutOfDomain.
    """
    asked = _asked(pace, plan, limits, filling)
    if not asked:
        return None
    decided_by, acres = min(asked.items(), key=lambda one: one[1])
    tightened: tuple[Strain, ...] = ()
    if limits.tightening is not None and local is not None:
        tightened = _strains(limits.tightening, local, on_shift, _time(pace, acres))
        acres *= number(share("to", limits.tightening.to)) ** len(tightened)
    latest = min([most for one, most in asked.items() if one is not Decider.FILLING], default=math.inf)
    count, acres = _at_pass_end(passes, acres, latest, nearest=decided_by is Decider.FILLING)
    interval = _time(pace, acres)
    if interval < limits.floor:
        return NextLook(limits.floor, pace.area(limits.floor), None, Decider.FLOOR, tightened)
    return NextLook(interval, quantity(acres, "acre"), count, decided_by, tightened)


def _asked(pace: PlantingPace, plan: LookPlan, limits: Limits, filling: Filling | None) -> dict[Decider, float]:
    """Acres after which each reason wants a look."""
    asked: dict[Decider, float] = {}
    if filling is not None:
        asked[Decider.RUN_OUT] = RUN_OUT_SHARE * _acres("left", filling.left)
    if limits.own is not None:
        asked[Decider.OWN] = _planted(pace, limits.own)
    match plan:
        case RefillsOnly():
            pass
        case EachFilling(between):
            if filling is not None and (between_looks := _between(counted("between", between), filling)) is not None:
                asked[Decider.FILLING] = between_looks
        case WithinArea(area):
            asked[Decider.ACRES] = _spare(pace, area, limits)
        case _:
            assert_never(plan)
    return asked


def _between(looks: int, filling: Filling) -> float | None:
    """Acres to the next of the looks spread over what is left of the filling; None where the refill is next."""
    planted = _acres("planted", filling.planted)
    refill = RUN_OUT_SHARE * (planted + _acres("left", filling.left))
    gap, ahead = refill / (looks + 1), refill - planted
    if ahead <= gap * (1 + STRETCH):
        return None
    return ahead / math.ceil(ahead / gap - STRETCH)


def _spare(pace: PlantingPace, area: Area, limits: Limits) -> float:
    """The area that may be lost less what goes by before a stopped row shows and before somebody looks, and less what
    a faster pace plants on top."""
    lost = magnitude(positive("area", area), "acre")
    unseen = 0.0 if limits.unseen is None else _acres("unseen", limits.unseen)
    return max((lost - min(unseen, KEPT * lost) - _planted(pace, limits.answer)) / (1 + PACE_DOUBT), 0.0)


def _at_pass_end(passes: Passes | None, acres: float, latest: float, *, nearest: bool) -> tuple[int | None, float]:
    """Passes and acres to the end of a pass at the look; as it was where no pass ends before."""
    if passes is None:
        return None, acres
    one, begun = magnitude(positive("area", passes.area), "acre"), _acres("begun", passes.begun)
    exact = (begun + acres) / one
    count = round(exact) if nearest else math.floor(exact * (1 + 1e-9))
    if count * one - begun > latest:
        count = math.floor(exact)
    at_end = count * one - begun
    return (count, at_end) if at_end > 0 else (None, acres)


def _strains(tightening: Tightening, local: datetime, on_shift: timedelta, interval: timedelta) -> tuple[Strain, ...]:
    at, late_from, until = (local + interval).time(), tightening.late_from, tightening.late_until
    late = late_from is not None and (late_from <= at < until if late_from <= until else at >= late_from or at < until)
    long = tightening.long_after is not None and on_shift + interval > tightening.long_after
    return tuple(strain for strain, holds in ((Strain.LATE, late), (Strain.LONG, long)) if holds)


def _acres(name: str, area: Area) -> float:
    return magnitude(not_negative(name, area), "acre")


def _planted(pace: PlantingPace, length: timedelta) -> float:
    return float(pace.area(length).magnitude)


def _time(pace: PlantingPace, acres: float) -> timedelta:
    return pace.time(quantity(acres, "acre")) if acres > 0 else timedelta()
