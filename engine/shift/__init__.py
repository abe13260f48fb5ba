"""Keeping watch while a planter works: reports in any order, the next look, what is in doubt, and true books."""

from engine.shift.activity import ShiftActivity
from engine.shift.record.settings import WatchSettings

__all__ = ["ShiftActivity", "WatchSettings"]
