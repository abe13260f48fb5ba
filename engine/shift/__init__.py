"""Keeping watch while a planter works: reports in any order, the next look, what is in doubt, and true books."""

from engine.shift.look import WatchSettings
from engine.shift.shift_activity import ShiftActivity

__all__ = ["ShiftActivity", "WatchSettings"]
