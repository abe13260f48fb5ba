"""Which instant of a shift an operator means: the latest that has passed when the clock on his wall showed that."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta
from typing import assert_never

from engine.clock import Ago, ClockTime, Moment
from engine.dialog.reply.system_texts import SystemKey
from engine.messages import Report, Reported
from engine.reminders.local_time import LocalTime
from engine.shift.turn import ShiftTurn

AHEAD = timedelta(minutes=3)
"""A clock that runs this far before ours still shows the present (own decision)."""
NOON = 12


def stands_at(turn: ShiftTurn, told: Reported) -> bool:
    """Let the turn stand at the moment that was said with a report; says where it is not one of this shift."""
    turn.past = None
    if told.when is None or told.until is not None or told.report in (Report.SNOOZED, Report.CLOCK):
        return True
    found = turn.own(instant(told.when, turn.builder.now, turn.builder.zone))
    if found is None:
        turn.say(SystemKey.SHIFT_TIME_SKIPPED)
        return False
    if found < turn.shift.started:
        turn.refuse(found, turn.shift.started)
        return False
    turn.past = found
    return True


def span_of(turn: ShiftTurn, told: Reported) -> tuple[datetime, datetime] | None:
    """From when to when something was that is told once it is over; says where that is not in this shift."""
    if told.when is None or told.until is None:
        return None
    shown = instant(told.until, turn.builder.now, turn.builder.zone)
    since = turn.own(instant(told.when, shown, turn.builder.zone) if shown else None)
    until = turn.own(shown)
    if until is None or since is None:
        turn.say(SystemKey.SHIFT_TIME_SKIPPED)
        return None
    if since < turn.shift.started or since >= until:
        turn.refuse(since, turn.shift.started)
        return None
    return since, until


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


def _shown(said: ClockTime, now: datetime, zone: str) -> Iterator[LocalTime]:
    """Every time that the wall may have shown this in the last two days and may show it in the next."""
    today = LocalTime.of(now, zone).local.date()
    hours = (said.hour, (said.hour + NOON) % (2 * NOON)) if said.twice else (said.hour,)
    for ahead in (1, 0, -1, -2):
        for hour in hours:
            local = datetime.combine(today + timedelta(days=ahead), time(hour, said.minute))
            yield from (LocalTime(local, zone), LocalTime(local, zone, second=True))


def _exists(wall: LocalTime) -> bool:
    return LocalTime.of(wall.instant.astimezone(UTC), wall.zone).local == wall.local
