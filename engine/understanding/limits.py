"""How likely a meaning must be before something is done about it.

Chosen on suites, see ``rowhand bench understanding``.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Limits:
    """Shares from 0 to 1. From ``kept`` on a value or report is kept, from ``asked`` on asked about; ``chosen`` for a
    closed answer; ``acted`` is for commands and answers, ``moved`` for those by which something is lost or left,
    ``emergency`` for what may be one, ``answered`` for questions, ``piece`` for a piece of what is talk as a whole
    (``piece_kept`` to keep it), ``ignored`` for talk (``ignored_rows`` where it names a row during a shift),
    ``name_kept`` for a name, ``asked_unreal`` for what is told as a question or as not so now.
    """

    kept: float = 0.65
    asked: float = 0.3
    asked_unreal: float = 0.6
    chosen: float = 0.75
    acted: float = 0.5
    moved: float = 0.7
    emergency: float = 0.12
    answered: float = 0.3
    piece: float = 0.6
    piece_kept: float = 0.85
    ignored: float = 0.45
    ignored_rows: float = 0.8
    name_kept: float = 0.5


LIMITS = Limits()
