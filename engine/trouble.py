"""Trouble with the database: as one sentence that says what to do, and what is broken in a file."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError, IntegrityError, SQLAlchemyError

from engine.errors import DatabaseError

_SENTENCES = (
    ("file is not a database", "{place} is not a record of this program: choose another file, it was left untouched"),
    ("malformed", "{place} is damaged: put back a copy, and keep the damaged file for rescue"),
    ("readonly", "{place} cannot be written: check who owns the file and its folder"),
    ("unable to open", "{place} cannot be opened: check that the folder exists and may be written"),
    ("locked", "{place} is in use by another program that does not let go: close it and try again"),
    ("disk is full", "the disk is full: free some space and say it again; what was kept before is safe"),
    ("lock timeout", "{place} is in use by another program that does not let go: wait for it and try again"),
    ("No space left", "the disk of the database server is full: free some space and say it again"),
    ("authentication failed", "{place} does not let this program in: check user and password"),
    ("permission denied", "{place} does not let this program write: give its user the rights of an owner"),
    ("connection", "{place} cannot be reached: check that the database server runs, and the line to it"),
    ("disk I/O", "the disk failed while {place} was used: check it; what was kept before is safe"),
)


@contextmanager
def told(place: str) -> Iterator[None]:
    """Trouble with the database becomes a sentence about ``place``: DatabaseError. IntegrityError passes."""
    try:
        yield
    except IntegrityError:
        raise
    except (DBAPIError, sqlite3.Error) as error:
        raise DatabaseError(_sentence(place, error)) from error
    except SQLAlchemyError as error:
        raise DatabaseError(f"{place} cannot be used: {error}") from error


def _sentence(place: str, error: Exception) -> str:
    said = str(error.orig) if isinstance(error, DBAPIError) else str(error)
    known = (sentence.format(place=place) for sign, sentence in _SENTENCES if sign in said)
    return next(known, f"{place} cannot be used: {said}")


def damage(connection: Connection) -> Iterator[str]:
    """What a file of SQLite says is broken in it; nothing on a server, which looks after its own pages."""
    if connection.dialect.name != "sqlite":
        return
    for (said,) in connection.exec_driver_sql("PRAGMA integrity_check(1)"):
        if said != "ok":
            yield f"the file is damaged: {' '.join(said.split())}"
    for table, row, parent, _ in connection.exec_driver_sql("PRAGMA foreign_key_check"):
        yield f"row {row} of {table} refers to nothing in {parent}"
