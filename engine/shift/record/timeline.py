"""The timeline of a shift: one map from instants to the area planted, drawn from what was told and the present pace.

Everything else in a shift holds instants and asks it how much was planted between two of them. Late news, such as a
pause told once it is over, makes another timeline and changes nothing else.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

from pydantic import AwareDatetime

from engine.calculations.kinds import Length
from engine.messages import Message
from engine.quantities import Measure, quantity
from engine.reminders.rules import AcreReport, PlantingPace, learned_efficiency

LEARNED_FROM = timedelta(minutes=1)
"""Less time than this teaches nothing of the field efficiency."""
LEAST_EFFICIENCY, MOST_EFFICIENCY = 0.05, 1.0


class Pause(Message):
    """When the planter stood; ``until`` None while it does."""

    since: AwareDatetime
    until: AwareDatetime | None = None


class Driven(Message):
    """A speed, from an instant on."""

    at: AwareDatetime
    speed: Measure


class AreaTold(Message):
    """The area since the beginning of the shift, as the operator said it at an instant."""

    at: AwareDatetime
    area: Measure


class _Knot(NamedTuple):
    """An instant at which something changes: ``capacity`` is the area [acre] that could have been planted by then
    without turns and stops at the speeds driven, ``worked`` the seconds without pauses, ``acres`` the area planted."""

    at: datetime
    capacity: float
    worked: float
    acres: float


@dataclass(frozen=True)
class Timeline:
    """What is true over time. ``speeds`` are those driven from their instants on, the first from ``started``;
    ``pauses`` when the planter stood; ``told`` the areas since the beginning that the operator said, in order of
    time; ``efficiency`` what the field efficiency is taken to be since the last of them [1]; ``width`` that of the
    rows in use."""

    started: datetime
    width: Length
    speeds: tuple[Driven, ...]
    pauses: tuple[Pause, ...] = ()
    told: tuple[AreaTold, ...] = ()
    efficiency: float = 1.0

    # ---- what is asked of it

    def planted(self, at: datetime) -> Measure:
        """Area planted by an instant [acre]."""
        return _area(self._acres(at))

    def between(self, since: datetime, until: datetime) -> Measure:
        """Area planted from one instant to a later one [acre]; nothing where it is none."""
        return _area(max(self._acres(until) - self._acres(since), 0.0))

    def worked(self, at: datetime) -> timedelta:
        """Time from the beginning to an instant, without pauses."""
        return timedelta(seconds=self._along(at).worked)

    def reached(self, area: Measure, until: datetime) -> datetime:
        """The first instant by which so much was planted, ``until`` at the latest: never inside a pause."""
        acres = area.to("acre").value
        knots, place = self._knots, bisect_left([one.acres for one in self._knots], acres)
        if place == 0:
            return self.started
        before = knots[place - 1]
        slope = self._slope(place - 1)
        at = before.at + timedelta(seconds=(acres - before.acres) / slope) if slope > 0 else until
        return min(at, until, knots[place].at if place < len(knots) else until)

    def settled(self, at: datetime) -> datetime:
        """An instant, or the beginning of the pause that it lies in."""
        return next((one.since for one in self.pauses if one.since < at and (not one.until or at < one.until)), at)

    def stands(self, at: datetime) -> bool:
        """Whether the planter stands at an instant, its first one included."""
        return any(one.since <= at and (one.until is None or at < one.until) for one in self.pauses)

    def capacity(self, since: datetime, until: datetime) -> Measure:
        """Area that could have been planted between two instants without turns and stops [acre]."""
        return _area(self._along(until).capacity - self._along(since).capacity)

    def speed(self, at: datetime) -> Measure:
        """Speed driven at an instant."""
        return self.speeds[self._place(at)].speed

    def pace(self, at: datetime) -> PlantingPace:
        """Pace at an instant, with the efficiency of the present."""
        return self._paces[self._place(at)]

    def learned(self, believed: float) -> float:
        """Field efficiency that the told areas teach, one after the other, beginning with ``believed`` [1]."""
        for first, last in pairwise([self._along(self.started), *(self._along(one.at) for one in self.told)]):
            length, could = timedelta(seconds=last.worked - first.worked), last.capacity - first.capacity
            if length >= LEARNED_FROM and could > 0:
                believed = self._lesson(believed, last.acres - first.acres, could, length)
        return believed

    def _lesson(self, believed: float, acres: float, could: float, length: timedelta) -> float:
        report = AcreReport(quantity(acres, "acre"), length)
        speed = quantity(could, "acre") / self.width / quantity(length.total_seconds(), "s")
        found = learned_efficiency(quantity(believed, "1"), (report,), speed, self.width)
        return min(max(float(found.to("dimensionless").magnitude), LEAST_EFFICIENCY), MOST_EFFICIENCY)

    # ---- how it is drawn

    def _acres(self, at: datetime) -> float:
        return self._along(at).acres

    def _along(self, at: datetime) -> _Knot:
        """The point of an instant; none lies before the beginning."""
        place = max(bisect_right(self._knots, at, key=lambda one: one.at) - 1, 0)
        knot = self._knots[place]
        gone = max((at - knot.at).total_seconds(), 0.0)
        running = gone if self._runs[place] else 0.0
        capacity = knot.capacity + running * self._full(knot.at)
        return _Knot(at, capacity, knot.worked + running, knot.acres + gone * self._slope(place))

    def _slope(self, place: int) -> float:
        """Acres a second after a knot."""
        knots = self._knots
        if place + 1 < len(knots):
            seconds = (knots[place + 1].at - knots[place].at).total_seconds()
            return self._shares[place] * self._full(knots[place].at) if seconds > 0 and self._runs[place] else 0.0
        return self.efficiency * self._full(knots[place].at) if self._runs[place] else 0.0

    def _full(self, at: datetime) -> float:
        """Acres a second at full speed, without turns and stops."""
        return self._rates[self._place(at)]

    def _place(self, at: datetime) -> int:
        """Which of the speeds was driven at an instant; the first one before it was told."""
        return max(bisect_right(self.speeds, at, key=lambda one: one.at) - 1, 0)

    @cached_property
    def _paces(self) -> tuple[PlantingPace, ...]:
        efficiency = quantity(self.efficiency, "1")
        return tuple(PlantingPace(one.speed.quantity, self.width, efficiency) for one in self.speeds)

    @cached_property
    def _rates(self) -> tuple[float, ...]:
        hour, all_of_it = timedelta(hours=1), quantity(1, "1")
        areas = (PlantingPace(one.speed.quantity, self.width, all_of_it).area(hour) for one in self.speeds)
        return tuple(float(area.to("acre").magnitude) / 3600 for area in areas)

    @cached_property
    def _instants(self) -> tuple[datetime, ...]:
        ends = [at for one in self.pauses for at in (one.since, one.until) if at is not None]
        changes = [*(one.at for one in self.speeds), *(one.at for one in self.told), *ends]
        return tuple(sorted({self.started, *(at for at in changes if at > self.started)}))

    @cached_property
    def _runs(self) -> tuple[bool, ...]:
        """Whether the planter runs after each knot."""
        return tuple(not self.stands(at) for at in self._instants)

    @cached_property
    def _shares(self) -> tuple[float, ...]:
        """Planted over what could have been planted, after each knot: what the operator told holds between two of his
        words, the efficiency after the last."""
        return tuple(self._share(at) for at in self._instants)

    def _share(self, at: datetime) -> float:
        before = AreaTold(at=self.started, area=_area(0.0))
        for one in self.told:
            if one.at > at:
                could = self._could(one.at) - self._could(before.at)
                return (one.area.to("acre").value - before.area.to("acre").value) / could if could > 0 else 0.0
            before = one
        return self.efficiency

    @cached_property
    def _capacities(self) -> tuple[tuple[float, float], ...]:
        """Capacity [acre] and seconds worked at each instant."""
        found, capacity, worked = [(0.0, 0.0)], 0.0, 0.0
        for place, (one, after) in enumerate(pairwise(self._instants)):
            seconds = (after - one).total_seconds() if self._runs[place] else 0.0
            capacity, worked = capacity + seconds * self._full(one), worked + seconds
            found.append((capacity, worked))
        return tuple(found)

    def _could(self, at: datetime) -> float:
        return self._capacities[self._instants.index(max(at, self.started))][0]

    @cached_property
    def _knots(self) -> tuple[_Knot, ...]:
        return tuple(self._drawn())

    def _drawn(self) -> Iterator[_Knot]:
        said = {max(one.at, self.started): one.area.to("acre").value for one in self.told}
        acres = 0.0
        before: tuple[float, float] | None = None
        for place, (at, (capacity, worked)) in enumerate(zip(self._instants, self._capacities, strict=True)):
            if before is not None:
                acres += (capacity - before[0]) * self._shares[place - 1]
            acres = said.get(at, acres)
            before = capacity, worked
            yield _Knot(at, capacity, worked, acres)


def _area(acres: float) -> Measure:
    return Measure(value=acres, unit="acre")
