"""Which instant of a shift an operator means: the latest that has passed when the clock on his wall showed that."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta
from typing import assert_never

from engine.clock import Ago, ClockTime, Moment
from engine.dialog.house import Key
from engine.dialog.shift.log import Log
from engine.dialog.shift.progress import back_at
from engine.messages import Report, Reported
from engine.reminders.wall import Wall

AHEAD = timedelta(minutes=3)
"""A clock that runs this far before ours still shows the present (own decision)."""
NOON = 12


def stands_at(log: Log, told: Reported) -> bool:
    """Let the log stand at the moment that was said with a report; says where it is not one of this shift."""
    log.past = None
    if told.when is None or told.until is not None or told.report is Report.SNOOZED:
        return True
    found = instant(told.when, log.walk.now, log.walk.zone)
    if found is None:
        log.say(Key.SHIFT_TIME_SKIPPED)
        return False
    if found < log.shift.started:
        log.refuse(found, log.shift.started)
        return False
    log.past = back_at(log.shift, log.plan, found)
    return True


def instant(said: Moment, now: datetime, zone: str) -> datetime | None:
    """The latest past instant that these words may mean; None for a time that the clock skipped.

    Of a time that the clock showed twice, and of one said without the half of the day, the latest past one is meant.
    """
    match said:
        case Ago(length=length):
            return now - timedelta(seconds=length.to("s").value)
        case ClockTime():
            past = [wall for wall in _shown(said, now, zone) if wall.instant <= now + AHEAD]
            wall = max(past, key=lambda one: one.instant)
            return min(wall.instant, now) if _exists(wall) else None
        case _:
            assert_never(said)


def upcoming(said: ClockTime, after: datetime, zone: str) -> datetime:
    """The next instant at which the clock shows this; without the half of the day the sooner of the two is meant."""
    shown = [wall.instant for wall in _shown(said, after, zone) if _exists(wall)]
    return min(moment for moment in shown if moment > after)


def _shown(said: ClockTime, now: datetime, zone: str) -> Iterator[Wall]:
    """Every time that the wall may have shown this in the last two days and may show it in the next."""
    today = Wall.of(now, zone).local.date()
    hours = (said.hour, (said.hour + NOON) % (2 * NOON)) if said.twice else (said.hour,)
    for ahead in (1, 0, -1, -2):
        for hour in hours:
            local = datetime.combine(today + timedelta(days=ahead), time(hour, said.minute))
            yield from (Wall(local, zone), Wall(local, zone, second=True))


def _exists(wall: Wall) -> bool:
    return Wall.of(wall.instant.astimezone(UTC), wall.zone).local == wall.local
