"""How a shift is watched, as the settings say."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time, timedelta

LATE = time(22)
MORNING = time(6)


@dataclass(frozen=True)
class Vigil:
    """``zone`` is where the clock on the wall hangs. From ``late_from`` to ``late_until`` and after ``long_after`` on
    shift looks come closer together; None where they do not. ``efficiency`` is believed until acres are reported.
    """

    zone: str = "UTC"
    late_from: time | None = LATE
    late_until: time = MORNING
    long_after: timedelta | None = timedelta(hours=8)
    efficiency: float = 0.65
