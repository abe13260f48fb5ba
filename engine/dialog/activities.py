"""The activities that a dialog can let watch, by name, and what each asks of the dialog."""

from __future__ import annotations

from collections.abc import Mapping

from engine.dialog.roles import Requirements
from engine.dialog.shift.role import SHIFT

ACTIVITIES: Mapping[str, Requirements] = {"shift": SHIFT}
