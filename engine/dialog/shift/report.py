"""Taking one report of a shift."""

from __future__ import annotations

from engine.dialog.walk import Walk
from engine.messages import Reported


def take_report(walk: Walk, reported: Reported) -> None:
    """Note what was told."""
