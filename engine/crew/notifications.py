"""What the foremen of a farm want to hear, and when only alarms may make a sound."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, time
from zoneinfo import ZoneInfo

from sqlalchemy import delete, insert, select

from engine.crew.roles import PersonRole
from engine.database import Database
from engine.history.store.tables import news

NIGHT = time(21), time(6)


@dataclass(frozen=True)
class Quiet:
    """From ``start`` to ``end`` by the clock on the wall in ``zone``; over midnight where the end is not later.

    The same time twice is the whole day.
    """

    start: time
    end: time
    zone: str

    def holds(self, now: datetime) -> bool:
        wall = now.astimezone(ZoneInfo(self.zone)).time()
        if self.start < self.end:
            return self.start <= wall < self.end
        return wall >= self.start or wall < self.end


@dataclass(frozen=True)
class NotificationWishes:
    """Which summaries somebody wants: at the end of a test run, at the end of a shift."""

    runs: bool
    shifts: bool
    quiet: Quiet | None


def usual(role: PersonRole, zone: str) -> NotificationWishes:
    """What holds until somebody says otherwise: foremen hear of everything, and of nothing loudly by night."""
    hears = role is PersonRole.FOREMAN
    return NotificationWishes(hears, hears, Quiet(*NIGHT, zone))


@dataclass(frozen=True)
class Notifications:
    """The wishes of everybody; ``zone`` is the time zone where nobody named another."""

    database: Database
    zone: str

    def wishes(self, chat: str, role: PersonRole) -> NotificationWishes:
        with self.database.read() as connection:
            row = connection.execute(select(news).where(news.c.chat == chat)).first()
        if row is None:
            return usual(role, self.zone)
        if row.quiet_from is None:
            return NotificationWishes(row.runs, row.shifts, None)
        start, end = (time.fromisoformat(one) for one in (row.quiet_from, row.quiet_until))
        return NotificationWishes(row.runs, row.shifts, Quiet(start, end, row.zone))

    def want(self, chat: str, wishes: NotificationWishes) -> None:
        """Remember what somebody wants from now on."""
        quiet = wishes.quiet
        row = {
            "chat": chat,
            "runs": wishes.runs,
            "shifts": wishes.shifts,
            "quiet_from": quiet and quiet.start.isoformat("minutes"),
            "quiet_until": quiet and quiet.end.isoformat("minutes"),
            "zone": quiet and quiet.zone,
        }
        with self.database.begin() as connection:
            connection.execute(delete(news).where(news.c.chat == chat))
            connection.execute(insert(news).values(row))


def with_summary(
    wishes: NotificationWishes, *, runs: bool | None = None, shifts: bool | None = None
) -> NotificationWishes:
    """The same wishes with one of the summaries on or off."""
    return replace(
        wishes, runs=wishes.runs if runs is None else runs, shifts=wishes.shifts if shifts is None else shifts
    )
