"""The activities that a dialog can let watch, by name, and what each asks of the dialog."""

from __future__ import annotations

from engine.dialog.schema.slot_roles import Requirements

ACTIVITIES: dict[str, Requirements] = {}
"""Each room of an activity puts its own requirements here."""
