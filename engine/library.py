"""The dialogs that are read at start, checked against the activities there are."""

from __future__ import annotations

from engine.dialog.script_library import Library, load_library, problems
from engine.shift import ShiftActivity

__all__ = ["ACTIVITIES", "Library", "load_library", "problems"]

ACTIVITIES = (ShiftActivity,)
"""What the steps of dialogs may hand over to."""
