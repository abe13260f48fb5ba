"""The turn of one who writes into a file of SQLite, among other programs that do.

SQLite waits by looking again, soon only every tenth of a second: beside a program that has much to write it may look
for ten seconds without ever meeting the moment between two transactions. Here it is looked every millisecond.
"""

from __future__ import annotations

import sqlite3
import time

from sqlalchemy import Connection
from sqlalchemy.exc import OperationalError

LOOK_AGAIN_S = 0.001


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
