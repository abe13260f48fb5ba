"""What was typed to Rowhand before, for the arrow keys: a file beside the record that its owner alone may read."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from prompt_toolkit.history import History

KEPT = 500
"""Lines that the arrow keys go back over (own decision)."""
PRIVATE = stat.S_IRUSR | stat.S_IWUSR


class LineHistory(History):
    """The last lines that were said to Rowhand, oldest first in the file; in memory alone where there is no ``file``.

    The editor would keep whatever is typed; only ``said`` keeps. A file that cannot be read or written is no reason to
    stop: it is comfort, and the record has every word.
    """

    def __init__(self, file: Path | None) -> None:
        super().__init__()
        self._file = file
        self._last: str | None = None

    def load_history_strings(self) -> Iterable[str]:
        """Newest first, as the editor wants them."""
        lines: list[str] = []
        with suppress(OSError, UnicodeDecodeError):
            lines = self._file.read_text(encoding="utf-8").splitlines()[-KEPT:] if self._file else []
        return reversed(lines)

    def append_string(self, string: str) -> None:
        """Not what is typed."""

    def store_string(self, string: str) -> None:
        if self._file is None:
            return
        with suppress(OSError):
            place = os.open(self._file, os.O_WRONLY | os.O_APPEND | os.O_CREAT, PRIVATE)
            with os.fdopen(place, "a", encoding="utf-8") as file:
                self._file.chmod(PRIVATE)
                file.write(f"{string}\n")

    def said(self, line: str) -> None:
        """Keep a line that was said; the same one twice running is kept once."""
        if line != self._last:
            super().append_string(line)
        self._last = line
