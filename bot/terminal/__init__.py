"""The terminal: a line that can be edited, with what was typed before and what may be said now."""

from __future__ import annotations

import os
import sys


def fits() -> bool:
    """Whether a line can be edited here: a terminal that is typed at and shown on, and that moves its cursor."""
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM") not in (None, "", "dumb")
