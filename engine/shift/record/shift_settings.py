"""How a shift is watched, as the settings say."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time, timedelta


@dataclass(frozen=True)
class WatchSettings:
    """``zone`` is where the clock on the wall hangs. From ``late_from`` to ``late_until`` and after ``long_after`` on
    shift looks come closer together; None, as usual, where they do not. ``efficiency`` is the field efficiency that is
    believed until acres are reported [1]: 50 to 75 %, typically 65 % (ASAE-D497).
    """

    zone: str = "UTC"
    late_from: time | None = None
    late_until: time = time(6)
    long_after: timedelta | None = None
    efficiency: float = 0.65
