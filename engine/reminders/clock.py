"""Whether the clock can be believed: two clocks, one of which nobody can set, are held against each other. Pure."""

from __future__ import annotations

import sys
import time
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from engine.reminders.reminder import ClockChange, ClockKind

TOLERANCE = timedelta(seconds=20)
"""How far a clock that is gently corrected over the network may be off before it is said."""


@dataclass(frozen=True)
class ClockReading:
    """The clock that people set, and one that only counts on, both read at the same moment."""

    wall: datetime
    steady: timedelta


def read_clock() -> ClockReading:
    """Both clocks now; the steady one counts on while the machine sleeps."""
    return ClockReading(datetime.now(UTC), timedelta(seconds=_steady_seconds()))


def compare(anchor: ClockReading, last: ClockReading, now: ClockReading) -> ClockChange | None:
    """What happened to the clock since an earlier reading, the ``anchor``, with ``last`` the reading just before now.

    An anchor some minutes old shows a clock that stands still or crawls, which two readings a second apart do not.
    """
    wrong = (now.wall - anchor.wall) - (now.steady - anchor.steady)
    if abs(wrong) <= TOLERANCE:
        return None
    if wrong > timedelta():
        return ClockChange(ClockKind.FORWARD, wrong, now.wall)
    stood_still = abs(now.wall - last.wall) < (now.steady - last.steady) / 10
    return ClockChange(ClockKind.STOPPED if stood_still else ClockKind.BACK, wrong, now.wall)


def compare_restart(last_seen: datetime, now: datetime) -> ClockChange | None:
    """The same over a restart, where only the clock that people set is left: it can be seen to have gone back."""
    gone = now - last_seen
    return ClockChange(ClockKind.BACK, gone, now) if gone < -TOLERANCE else None


def _steady_seconds() -> float:
    if sys.platform == "linux":
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    if sys.platform == "darwin":
        return time.clock_gettime(time.CLOCK_MONOTONIC)
    return time.monotonic()
