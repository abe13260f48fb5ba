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

from engine.calculations.kinds import Length
from engine.quantities import Measure, quantity
from engine.reminders.rules import AcreReport, PlantingPace, learned_efficiency

LEARNED_FROM = timedelta(minutes=1)
"""Less time than this teaches nothing of the field efficiency."""
LEAST_EFFICIENCY, MOST_EFFICIENCY = 0.05, 1.0


class Span(NamedTuple):
    """From an instant to another; ``until`` None is for as long as anything is known."""

    since: datetime
    until: datetime | None


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
    ``standing`` when the planter stood; ``told`` the areas since the beginning that the operator said, in order of
    time; ``efficiency`` what the field efficiency is taken to be since the last of them [1]; ``width`` that of the
    rows in use."""

    started: datetime
    width: Length
    speeds: tuple[tuple[datetime, Measure], ...]
    standing: tuple[Span, ...] = ()
    told: tuple[tuple[datetime, Measure], ...] = ()
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
        return next((one.since for one in self.standing if one.since < at and (not one.until or at < one.until)), at)

    def stands(self, at: datetime) -> bool:
        """Whether the planter stands at an instant, its first one included."""
        return any(one.since <= at and (one.until is None or at < one.until) for one in self.standing)

    def capacity(self, since: datetime, until: datetime) -> Measure:
        """Area that could have been planted between two instants without turns and stops [acre]."""
        return _area(self._along(until).capacity - self._along(since).capacity)

    def speed(self, at: datetime) -> Measure:
        """Speed driven at an instant."""
        return self.speeds[self._place(at)][1]

    def pace(self, at: datetime) -> PlantingPace:
        """Pace at an instant, with the efficiency of the present."""
        return self._paces[self._place(at)]

    def learned(self, believed: float) -> float:
        """Field efficiency that the told areas teach, one after the other, beginning with ``believed`` [1]."""
        for first, last in pairwise([self._along(self.started), *map(self._along, (at for at, _ in self.told))]):
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
        return max(bisect_right(self.speeds, at, key=lambda one: one[0]) - 1, 0)

    @cached_property
    def _paces(self) -> tuple[PlantingPace, ...]:
        efficiency = quantity(self.efficiency, "1")
        return tuple(PlantingPace(speed.quantity, self.width, efficiency) for _, speed in self.speeds)

    @cached_property
    def _rates(self) -> tuple[float, ...]:
        hour, all_of_it = timedelta(hours=1), quantity(1, "1")
        areas = (PlantingPace(speed.quantity, self.width, all_of_it).area(hour) for _, speed in self.speeds)
        return tuple(float(area.to("acre").magnitude) / 3600 for area in areas)

    @cached_property
    def _instants(self) -> tuple[datetime, ...]:
        ends = [at for one in self.standing for at in one if at is not None]
        changes = (*(at for at, _ in self.speeds), *(at for at, _ in self.told), *ends)
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
        after = next(((place, one) for place, one in enumerate(self.told) if one[0] > at), None)
        if after is None:
            return self.efficiency
        place, (until, area) = after
        since, before = self.told[place - 1] if place else (self.started, _area(0.0))
        could = self._could(until) - self._could(since)
        return (area.to("acre").value - before.to("acre").value) / could if could > 0 else 0.0

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
        said = {max(at, self.started): area.to("acre").value for at, area in self.told}
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
