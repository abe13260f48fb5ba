"""What a machine costs by itself, measured in the same run as a figure: one commit of one row, and a bare loop."""

from __future__ import annotations

import os
import sqlite3
import time
from contextlib import closing
from pathlib import Path
from statistics import median

COMMITS, STEPS = 50, 200_000


def commit_ms(folder: Path) -> float:
    """The median time in which one row gets onto the disk in this folder, set up as the record is."""
    with closing(sqlite3.connect(folder / "bare.db", isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("CREATE TABLE IF NOT EXISTS bare (number INTEGER)")
        return median(_timed(connection) for _ in range(COMMITS)) * 1000


def _timed(connection: sqlite3.Connection) -> float:
    begun = time.perf_counter()
    connection.execute("INSERT INTO bare VALUES (1)")
    return time.perf_counter() - begun


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
