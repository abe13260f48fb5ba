"""Keeping watch: one step of the loop that rings reminders and minds the clock. The caller loops and sleeps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from engine.reminders.clock import ClockReading, compare, compare_restart, read_clock
from engine.reminders.reminder import ClockChange, ClockKind, Compose, Ring
from engine.reminders.schedule import Schedule

BEAT = timedelta(minutes=1)
ANCHOR = timedelta(minutes=10)
LONGEST_SLEEP = timedelta(seconds=1)


@dataclass
class ReminderWatch:
    """Rings what is due and says when the clock cannot be believed. Not frozen: it remembers the last readings."""

    schedule: Schedule
    compose: Compose
    read: Callable[[], ClockReading] = read_clock
    _anchor: ClockReading | None = field(default=None, init=False)
    _last: ClockReading | None = field(default=None, init=False)
    _beaten: datetime | None = field(default=None, init=False)
    _since: int | None = field(default=None, init=False)
    _stopped: bool = field(default=False, init=False)

    def step(self) -> tuple[Ring, ...]:
        """Look at the clocks, then ring. Call it again after ``pause``."""
        now = self.read()
        if self._since is None:
            self._since = self.schedule.newest()
        change = self._change(now)
        if change is not None:
            self._tell(change)
        self._remember(now, change)
        return self.schedule.tick(now.wall, self.compose)

    def pause(self) -> timedelta:
        """How long to sleep before the next step."""
        due = self.schedule.next_due()
        if due is None:
            return LONGEST_SLEEP
        return min(max(due - self.read().wall, timedelta()), LONGEST_SLEEP)

    def _change(self, now: ClockReading) -> ClockChange | None:
        if self._anchor is not None and self._last is not None:
            return compare(self._anchor, self._last, now)
        seen = self.schedule.last_beat()
        return None if seen is None else compare_restart(seen, now.wall)

    def _tell(self, change: ClockChange) -> None:
        """A clock that stands still is mended each time and told once."""
        stopped = change.kind is ClockKind.STOPPED
        if stopped and self._stopped:
            self.schedule.mend(change, self._since)
        else:
            self.schedule.notice(change, self.compose, self._since)
        self._stopped = stopped

    def _remember(self, now: ClockReading, change: ClockChange | None) -> None:
        if self._anchor is None or change or now.steady - self._anchor.steady > ANCHOR:
            self._stopped = self._stopped and change is not None
            self._anchor = now
        self._last = now
        if self._beaten is None or change or now.wall - self._beaten >= BEAT:
            self.schedule.beat(now.wall)
            self._beaten = now.wall
