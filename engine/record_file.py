"""The file of a record: its owner's alone, still the one that was opened, and written into by one at a time.

SQLite waits by looking again, soon only every tenth of a second: beside a program that has much to write it may look
for ten seconds without ever meeting the moment between two transactions. Here it is looked every millisecond.
"""

from __future__ import annotations

import os
import sqlite3
import time
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import Connection
from sqlalchemy.exc import OperationalError

from engine.errors import DatabaseError

LOOK_AGAIN_S = 0.001


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


def begin_writing(connection: Connection) -> None:
    """Begin a transaction that writes, as soon as others let it.

    Raises OperationalError where they do not within the connection's own ``busy_timeout``.
    """
    file = connection.connection.driver_connection
    assert isinstance(file, sqlite3.Connection)
    (patience_ms,) = file.execute("PRAGMA busy_timeout").fetchone()
    until = time.monotonic() + patience_ms / 1000
    file.execute("PRAGMA busy_timeout = 0")
    try:
        while not _begun(connection, until):
            time.sleep(LOOK_AGAIN_S)
    finally:
        file.execute(f"PRAGMA busy_timeout = {patience_ms}")


def _begun(connection: Connection, until: float) -> bool:
    try:
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    except OperationalError as error:
        code = getattr(error.orig, "sqlite_errorcode", 0)
        if code & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > until:
            raise
        return False
    return True
