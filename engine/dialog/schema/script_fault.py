"""One thing wrong with a script, before it is known in which file and line it stands."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import get_close_matches
from typing import NamedTuple

from engine.data.definitions import Place


class ScriptFault(NamedTuple):
    """What is wrong at a place of the script, and how to mend it."""

    place: Place
    wrong: str
    mend: str


def nearest(name: str, known: Iterable[str], otherwise: str) -> str:
    """A mend for a name nobody knows: the likeliest of the known ones, or ``otherwise``."""
    close = get_close_matches(name, list(known), n=1)
    return f"did you mean {close[0]}?" if close else otherwise
