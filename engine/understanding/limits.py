"""How likely a meaning must be before something is done about it.

Chosen on suites, see ``rowhand bench understanding``.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Limits:
    """Shares from 0 to 1. From ``kept`` on a value or report is kept, from ``asked`` on asked about; ``acted`` is for
    commands, answers and skips, ``answered`` for questions, ``ignored`` for talk (``ignored_rows`` where it names a
    row during a shift), ``name_kept`` for a name, ``asked_unreal`` for what is told as a question or as not so now."""

    kept: float = 0.8
    asked: float = 0.35
    asked_unreal: float = 0.6
    acted: float = 0.6
    answered: float = 0.4
    ignored: float = 0.5
    ignored_rows: float = 0.8
    name_kept: float = 0.6


LIMITS = Limits()
