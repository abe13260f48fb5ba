"""Lines of a text stream, with something done while none comes."""

from __future__ import annotations

import os
import select
import sys
import time
from collections.abc import Callable, Iterator
from io import TextIOWrapper
from typing import TextIO

PAUSE_S = 1.0
PIECE = 65_536


def lines(source: TextIO, meanwhile: Callable[[], None] | None = None) -> Iterator[str]:
    """Every line to the end of the stream; ``meanwhile`` is called about once a second, also between quick lines.

    With ``meanwhile`` the stream must be one of the system, and nothing else may read from it. On Windows, where one
    cannot wait for a stream and the clock together, it is never called. A byte that is no text becomes U+FFFD.
    """
    if meanwhile is None or sys.platform == "win32":
        if isinstance(source, TextIOWrapper):
            source.reconfigure(errors="replace")
        yield from iter(source.readline, "")
        return
    yield from (line.decode(source.encoding, "replace") for line in _raw(source.fileno(), meanwhile))


def _raw(file: int, meanwhile: Callable[[], None]) -> Iterator[bytes]:
    kept, called = b"", 0.0
    while True:
        if time.monotonic() - called >= PAUSE_S:
            meanwhile()
            called = time.monotonic()
        if not select.select([file], [], [], PAUSE_S)[0]:
            continue
        piece = os.read(file, PIECE)
        *whole, kept = (kept + piece).split(b"\n")
        yield from whole
        if not piece:
            if kept:
                yield kept
            return
