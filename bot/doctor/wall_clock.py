"""The clock and the zone of this computer: by them reminders ring, and by them the record is in order."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from bot.doctor.finding import Finding, note, ok, wrong
from bot.doctor.record import RecordTimes
from bot.settings import Settings

EARLIEST = datetime(2026, 11, 1, tzinfo=UTC)
"""No clock that is right shows a moment before this program was made."""
NOBODYS = {"UTC", "UCT", "GMT", "GMT0", "Greenwich", "Universal", "Zulu"}
"""What a computer is set to that was never told where it is."""
SLACK = timedelta(minutes=2)
JUMP_S = 1.0
SET_IT = "set the clock, or let it be set from the network"


@dataclass(frozen=True)
class ClockWatch:
    """How the wall clock stood to the clock that never jumps when the examination began."""

    begun: float = field(default_factory=lambda: time.time() - time.monotonic())

    def jumped_s(self) -> float:
        """How far the wall clock was moved since."""
        return time.time() - time.monotonic() - self.begun


def zone(settings: Settings, now: datetime) -> Finding:
    there = f"{settings.time_zone}, where it is {now.astimezone(settings.zone):%Y-%m-%d %H:%M}"
    if settings.time_zone.rpartition("/")[2] in NOBODYS:
        return note("time zone", there, "set ROWHAND_TIME_ZONE to that of the farm, like America/Chicago")
    return ok("time zone", there)


def examine(now: datetime, known: RecordTimes | None, watch: ClockWatch) -> Iterator[Finding]:
    """``now`` against the past that is known; ``watch`` was begun before."""
    told = f"{now:%Y-%m-%d %H:%M} UTC"
    newest = known and known.newest_turn
    awake = known and known.last_beat
    if now < EARLIEST:
        yield wrong("clock", f"{told} is before this program was made", SET_IT)
    elif newest and newest > now + SLACK:
        yield wrong("clock", f"{told} is before the newest turn of the record, {newest:%Y-%m-%d %H:%M}", SET_IT)
    elif awake and awake > now + SLACK:
        yield wrong("clock", f"{told} is before the program was last awake, {awake:%Y-%m-%d %H:%M}", SET_IT)
    else:
        yield ok("clock", told)
    if abs(watch.jumped_s()) > JUMP_S:
        yield note("clock", f"it jumped by {watch.jumped_s():+.0f} s during this examination", "look what sets it")
