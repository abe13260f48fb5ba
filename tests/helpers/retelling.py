"""What tests tell a record again and again, told once a process: then the record as it stood is put in its place."""

from __future__ import annotations

import sqlite3
from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager

from sqlalchemy import select

from engine.database import Database
from engine.history.store import tables

MOST = 200
_told: OrderedDict[Hashable, sqlite3.Connection] = OrderedDict()


def retell(database: Database, told: Hashable, tell: Callable[[], object]) -> None:
    """Bring a record to where ``tell`` brings it; ``told`` is all that the record then holds, told in which order, by
    whom and when. On a server it is told each time."""
    if database.is_server:
        tell()
        return
    if told in _told:
        _copy(_told[told], database, into=True)
        return
    tell()
    kept = sqlite3.connect(":memory:", check_same_thread=False)
    _copy(kept, database, into=False)
    _told[told] = kept
    if len(_told) > MOST:
        _told.popitem(last=False)[1].close()


@contextmanager
def told_anew() -> Iterator[None]:
    """Nothing is taken from before, nor kept: by other rules a record holds something else."""
    _forget()
    try:
        yield
    finally:
        _forget()


def _forget() -> None:
    while _told:
        _told.popitem()[1].close()


def is_empty(database: Database) -> bool:
    """Whether nothing was told to a record yet."""
    told = [table for table in tables.metadata.sorted_tables if table is not tables.version]
    with database.read() as connection:
        return not any(connection.execute(select(table).limit(1)).first() for table in told)


def _copy(kept: sqlite3.Connection, database: Database, into: bool) -> None:
    with database.engine.connect() as connection:
        connection.rollback()
        driver = connection.connection.driver_connection
        assert isinstance(driver, sqlite3.Connection)
        if into:
            kept.backup(driver)
        else:
            driver.backup(kept)
