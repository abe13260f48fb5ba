"""One transaction that a thread does all its work in: parts of it are undone alone, or the whole is."""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError, IntegrityError

from engine.errors import DatabaseError


@dataclass
class JointTransaction:
    """The transaction that a thread does all its work in; ``failed``: the database did, and nothing of it is kept."""

    connection: Connection
    failed: bool = False
    moment: object = field(default_factory=object)


class JointTransactions(threading.local):
    """The joint transactions of each thread, and those that only read, by the record they are on."""

    def __init__(self) -> None:
        self.of: dict[Engine, JointTransaction] = {}
        self.reading: dict[Engine, Connection] = {}


@contextmanager
def noted(joint: JointTransaction) -> Iterator[None]:
    if joint.failed:  # SQLite may have ended the transaction by itself, and would keep what comes now
        raise DatabaseError("what was written together with this was not kept")
    try:
        yield
    except IntegrityError:
        raise
    except (DBAPIError, sqlite3.Error):
        joint.failed = True
        raise


@contextmanager
def undoable(connection: Connection) -> Iterator[None]:
    """A part of a transaction, undone alone where it raises. Told to the driver itself: a piece of work has many."""
    driver = connection.connection.driver_connection
    if not isinstance(driver, sqlite3.Connection):
        with connection.begin_nested():
            yield
        return
    driver.execute("SAVEPOINT part")
    try:
        yield
    except BaseException:
        driver.execute("ROLLBACK TO part")
        driver.execute("RELEASE part")
        raise
    driver.execute("RELEASE part")
