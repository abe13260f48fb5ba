"""The file of a record: its owner's alone, and still the one that was opened."""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import Connection

from engine.errors import DatabaseError


def make_private(path: Path) -> None:
    """Make a new file readable by its owner alone; what SQLite puts beside it has the rights of the file."""
    with suppress(OSError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))


@dataclass(eq=False)
class FileGuard:
    """Looks at the begin of each transaction whether the file is there: one that was deleted or moved while it was open
    would take along what is written into it."""

    path: Path
    _known: tuple[int, int] | None = field(default=None, init=False)

    def __call__(self, _connection: Connection) -> None:
        try:
            now = self.path.stat()
        except OSError as error:
            mend = "put it back, or stop and start again to begin a new one"
            raise DatabaseError(f"{self.path} is gone: {mend}") from error
        self._known = self._known or (now.st_dev, now.st_ino)
        if self._known != (now.st_dev, now.st_ino):
            raise DatabaseError(f"{self.path} is another file than the one that was opened: stop, and start again")
