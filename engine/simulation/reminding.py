"""Who reminds the operator of a simulated night: the engine with its schedule, a habit, or nobody."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Protocol

from engine.calculations.kinds import Ratio
from engine.calculations.use import unseen_area
from engine.database import Database
from engine.outbox import Outbox
from engine.quantities import quantity
from engine.reminders.changes import apply
from engine.reminders.reminder import Answer, Audience, Change, ClockNotice, Remind, Ring
from engine.reminders.rules import AcreReport, Caution, Pace, first_run_out, learned_efficiency, next_look
from engine.reminders.schedule import Schedule
from engine.reminders.wall import later
from engine.simulation.night import SPACING_IN, Night

LOOK = "look"
BELIEVED = 65.0
HABIT_HOURS = 2.0
LEASE = timedelta(minutes=1)


@dataclass(frozen=True)
class Asked:
    """When something was asked, of whom, and for the how manieth time."""

    at: datetime
    audience: Audience
    attempt: int


class Reminding(Protocol):
    """Says when the operator is to look next. Hours count from the start of the shift."""

    def looked(self, hour: float, left: tuple[float, ...], /) -> None:
        """Somebody looked; ``left`` is what each hopper should hold by now [lb]."""

    def told_acres(self, hour: float, acres: float, /) -> None:
        """The operator said that this much was planted in all."""

    def due(self) -> float | None:
        """When the next look is asked for; None for never."""

    def ring(self, until: float, /) -> tuple[Asked, ...]:
        """Ask, and ask again, until this hour, when somebody answers."""


@dataclass
class Habit:
    """Every so many hours by the clock of the operator's own head; ``every`` None is nobody."""

    every: float | None
    _due: float | None = field(default=None, init=False)

    def looked(self, hour: float, _left: tuple[float, ...]) -> None:
        self._due = None if self.every is None else hour + self.every

    def told_acres(self, _hour: float, _acres: float) -> None:
        return None

    def due(self) -> float | None:
        return self._due

    def ring(self, _until: float) -> tuple[Asked, ...]:
        return ()


class Risk:
    """The rules and the schedule as they are, on a database, with the time of the simulation."""

    def __init__(self, night: Night, database: Database) -> None:
        self.night, self.database = night, database
        self.conversation = f"night/{night.seed[0]}/{night.seed[1]}"
        self.schedule, self.outbox = Schedule(database), Outbox(database)
        self.reports: list[AcreReport] = []
        self.efficiency: Ratio = quantity(BELIEVED, "%")
        self._told = 0.0, 0.0
        self._next: datetime | None = None
        self._speed = quantity(night.mph, "mph")
        self._width = quantity(night.width_ft, "ft")
        self._rate, self._spacing = quantity(night.rate, "lb/acre"), quantity(SPACING_IN, "in")
        shift = night.shift
        unseen = unseen_area(
            quantity(night.hopper, "lb"), self._rate, self._spacing, shift.rows, quantity(shift.eye, "1")
        )
        self.caution = Caution(quantity(shift.accepted, "acre"), unseen=unseen, answer=timedelta(minutes=shift.answer))

    def looked(self, hour: float, left: tuple[float, ...]) -> None:
        now = self.night.time(hour)
        pace = Pace(self._speed, self._width, self.efficiency)
        fullness = {1: quantity(max(min(left), 0.0), "lb")}
        empty = first_run_out(fullness, self._rate, pace, self._spacing)
        look = next_look(pace, self.caution, now.replace(tzinfo=None), timedelta(hours=hour), empty and empty[1])
        self._apply(
            Answer(LOOK), Remind(LOOK, later(now, look.interval, "UTC"), elapsed=True, foreman="foreman"), at=now
        )

    def told_acres(self, hour: float, acres: float) -> None:
        before, planted = self._told
        report = AcreReport(quantity(max(acres - planted, 0.0), "acre"), timedelta(hours=hour - before))
        self.reports.append(report)
        self._told = hour, acres
        self.efficiency = learned_efficiency(quantity(BELIEVED, "%"), tuple(self.reports), self._speed, self._width)

    def due(self) -> float | None:
        self._next = self.schedule.next_due()
        return None if self._next is None else (self._next - self.night.shift.start) / timedelta(hours=1)

    def ring(self, until: float) -> tuple[Asked, ...]:
        asked: list[Asked] = []
        moment, last = self._next, self.night.time(until)
        while moment is not None and moment <= last:
            asked += [Asked(ring.at, ring.audience, ring.loudness) for ring in self.schedule.tick(moment, _plain)]
            if last - moment < self.schedule.policy.again:
                break
            self._deliver(moment)
            moment = self.schedule.next_due()
        return tuple(asked)

    def _deliver(self, moment: datetime) -> None:
        """The message leaves at once; where somebody answers before the next try, nothing hangs on that."""
        for message in self.outbox.claim("wire", moment, LEASE, prefix=self.conversation):
            self.outbox.drop(message.key)

    def _apply(self, *changes: Change, at: datetime) -> None:
        with self.database.begin() as connection:
            apply(connection, self.conversation, changes, at)


def _plain(ring: Ring | ClockNotice) -> dict[str, object]:
    return {"items": len(ring.items) if isinstance(ring, Ring) else 0}
