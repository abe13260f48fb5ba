"""What a machine costs by itself, measured in the same run as a figure: one commit of one row, and a bare loop."""

from __future__ import annotations

import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from statistics import median

COMMITS, STEPS = 50, 200_000
PRAGMAS = {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 10_000}
"""As the record has them; 2 is FULL."""


class BareRecord:
    """One table of one column on the disk where a record is, and nothing between it and the disk."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def commit(self) -> float:
        """The seconds in which one row gets onto the disk."""
        begun = time.perf_counter()
        self._connection.execute("INSERT INTO bare VALUES (1)")
        return time.perf_counter() - begun

    def setting(self, name: str) -> object:
        """A setting of SQLite as it holds here."""
        return self._connection.execute(f"PRAGMA {name}").fetchone()[0]


@contextmanager
def bare_record(folder: Path) -> Iterator[BareRecord]:
    """A bare record in this folder, set up as the real one is."""
    with closing(sqlite3.connect(folder / "bare.db", isolation_level=None)) as connection:
        for name, value in sorted(PRAGMAS.items()):
            connection.execute(f"PRAGMA {name} = {value}")
        connection.execute("CREATE TABLE IF NOT EXISTS bare (number INTEGER)")
        yield BareRecord(connection)


def commit_ms(folder: Path) -> float:
    """The median time in which one row gets onto the disk in this folder."""
    with bare_record(folder) as bare:
        return median(bare.commit() for _ in range(COMMITS)) * 1000


def loop_ms() -> float:
    """The processor time of a bare loop, which grows where a machine is shared."""
    begun = time.process_time()
    for _ in range(STEPS):
        pass
    return (time.process_time() - begun) * 1000


def used_s(process: int) -> float:
    """The processor time that a process has used so far."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
