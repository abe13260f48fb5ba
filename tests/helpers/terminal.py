"""A program at a terminal of some width: keys go in, what it shows comes out without the marks that move and colour."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import struct
import termios
import time
from collections.abc import Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

from tests.helpers.forked import at_terminal
from tests.helpers.process import ROOT, python

MARKS = re.compile(r"\x1b\[[0-9;?]*[ -/]*[@-~]|\x1b[()][0-9A-Z]|\x1b[=>]")
ROWS = 30


class TypedAt:
    """``rowhand talk`` on a record, at a terminal ``width`` columns wide."""

    def __init__(self, record: Path, width: int, options: Sequence[str] = (), **environment: str) -> None:
        self._ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", ROWS, width, 0, 0))
        known = {name: value for name, value in os.environ.items() if name not in ("COLUMNS", "LINES", "NO_COLOR")}
        command = [*python("-m", "bot.cli", "talk", "--db"), str(record), *options]
        self.process = at_terminal(command, ROOT, known | {"TERM": "xterm"} | environment, theirs)
        os.close(theirs)
        self.raw = ""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.process.kill()
        self.process.join()
        os.close(self._ours)

    def until(self, *words: str, seconds: float = 60.0) -> str:
        """What was shown since the last call up to all these words, one after the other, however lines are broken."""
        wanted = re.compile(".*".join(map(re.escape, words)))
        found, end = b"", time.monotonic() + seconds
        while True:
            self.raw = found.decode("utf-8", "replace")
            shown = MARKS.sub("", self.raw)
            if wanted.search(" ".join(shown.split())):
                return shown
            assert select.select([self._ours], [], [], max(end - time.monotonic(), 0))[0], shown
            found += os.read(self._ours, 65_536)

    def type(self, keys: str) -> None:
        os.write(self._ours, keys.encode())

    def rest(self, seconds: float = 60.0) -> str:
        """What was shown from the last call to the end of the program."""
        found, end = b"", time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                if select.select([self._ours], [], [], 0.5)[0]:
                    found += os.read(self._ours, 65_536)
            except OSError:
                break
            if self.process.exitcode is not None and not select.select([self._ours], [], [], 0)[0]:
                break
        self.process.join(max(end - time.monotonic(), 1))
        return MARKS.sub("", found.decode("utf-8", "replace"))
