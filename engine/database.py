"""The file (or server) that keeps everything, opened safely.

On SQLite every commit is on the disk before it returns (write-ahead log, synchronous FULL) and foreign keys hold. On
SQLite and on PostgreSQL a transaction that writes takes the one lock of the record at its start, so that writers come
one after another and never deadlock, and one that reads sees one moment, beside any writer. What only one kind of
database understands stands in this module, in the triggers of ``tables``, in ``upgrades`` and in ``backup``.
"""

from __future__ import annotations

import sqlite3
import time
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, QueuePool, Table, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, IntegrityError, NoSuchModuleError, SQLAlchemyError

from engine.errors import DatabaseError
from engine.history.store import upgrades
from engine.record_file import FileGuard, make_private

BUSY_SECONDS = 10
_READS = "rowhand_reads"
_SNAPSHOT = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
_ALONE = "SELECT pg_advisory_xact_lock(hashtext('rowhand'), hashtext(coalesce(current_schema(), '')))"


@dataclass(frozen=True)
class Database:
    """An open record. ``place`` is how to name it to a person."""

    engine: Engine
    place: str

    @contextmanager
    def begin(self) -> Iterator[Connection]:
        """One transaction that writes: all of it or none. IntegrityError passes, other trouble is DatabaseError."""
        with told(self.place), self.engine.begin() as connection:
            yield connection

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """One transaction that only reads, beside any writer."""
        options = {_READS: True} | (_SNAPSHOT if self.engine.dialect.name == "postgresql" else {})
        with told(self.place), self.engine.execution_options(**options).begin() as connection:
            yield connection

    def close(self) -> None:
        self.engine.dispose()


def open_database(where: str | Path) -> Database:
    """Open the record at a path, ``:memory:`` or a database URL; make it, or bring it up to date, where needed.

    Raises NewerDatabase or DatabaseError, each with one sentence that says what to do.
    """
    place = str(where)
    engine = _server(place) if "://" in place else _file(place)
    database = Database(engine, engine.url.render_as_string(hide_password=True) if "://" in place else place)
    try:
        while _upgrade_one(database):
            pass
    except BaseException:
        database.close()
        raise
    return database


def insert_new(connection: Connection, table: Table, rows: Sequence[dict[str, Any]]) -> None:
    """Insert the rows that are not there yet; those whose unique key exists are left as they are."""
    if rows:
        dialect = import_module(f"sqlalchemy.dialects.{connection.dialect.name}")
        connection.execute(dialect.insert(table).on_conflict_do_nothing(), rows)


def damage(connection: Connection) -> Iterator[str]:
    """What a file of SQLite says is broken in it; nothing on a server, which looks after its own pages."""
    if connection.dialect.name != "sqlite":
        return
    for (said,) in connection.exec_driver_sql("PRAGMA integrity_check(1)"):
        if said != "ok":
            yield f"the file is damaged: {' '.join(said.split())}"
    for table, row, parent, _ in connection.exec_driver_sql("PRAGMA foreign_key_check"):
        yield f"row {row} of {table} refers to nothing in {parent}"


def _upgrade_one(database: Database) -> bool:
    with database.begin() as connection:
        return upgrades.upgrade_one(connection, database.place)


def address(url: str) -> URL:
    """A database URL, with the driver of the ``server`` extra where it names PostgreSQL and no driver.

    Raises ArgumentError for what is no URL.
    """
    parsed = make_url(url)
    return parsed.set(drivername="postgresql+psycopg") if parsed.drivername in ("postgresql", "postgres") else parsed


def _server(url: str) -> Engine:
    try:
        parsed = address(url)
        match parsed.get_backend_name():
            case "sqlite":
                return _prepared(create_engine(parsed))
            case "postgresql":
                return _waiting(create_engine(parsed, isolation_level="READ COMMITTED", pool_pre_ping=True))
            case other:
                raise DatabaseError(f"the database address cannot be used: {other} is neither sqlite nor postgresql")
    except ModuleNotFoundError as error:
        mend = (
            "install Rowhand with its extra server: pip install 'rowhand[server]'"
            if error.name == "psycopg"
            else "name another driver"
        )
        raise DatabaseError(f"the database address cannot be used: {error}: {mend}") from error
    except (ArgumentError, NoSuchModuleError) as error:
        raise DatabaseError(f"the database address cannot be used: {error}") from error


def _file(place: str) -> Engine:
    if place == ":memory:":
        return _memory()
    path = Path(place).expanduser()
    if path.is_dir():
        raise DatabaseError(f"{place} is a folder: name a file for the record")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise DatabaseError(f"the folder {path.parent} cannot be made: {error.strerror}") from error
    make_private(path)
    engine = _prepared(create_engine(URL.create("sqlite", database=str(path)), connect_args={"timeout": BUSY_SECONDS}))
    event.listen(engine, "begin", FileGuard(path))
    return engine


def _memory() -> Engine:
    """A record that is gone when it is closed. Its connections share it, as those to a file do, so that one can read
    while another one writes; there one sees what the other has not committed yet."""
    place = f"file:{uuid.uuid4().hex}?mode=memory&cache=shared&uri=true"
    apart = {"check_same_thread": False}
    engine = _prepared(create_engine(f"sqlite:///{place}", connect_args=apart, poolclass=QueuePool))
    event.listen(engine, "connect", lambda connection, _: connection.execute("PRAGMA read_uncommitted = ON"))
    return engine


def _prepared(engine: Engine) -> Engine:
    event.listen(engine, "connect", _on_connect)
    event.listen(engine, "begin", _on_begin)
    return engine


def _waiting(engine: Engine) -> Engine:
    """A server whose writers wait for each other as those of a file do."""
    event.listen(engine, "connect", _on_server_connect)
    event.listen(engine, "begin", _on_server_begin)
    return engine


def _on_server_connect(connection: Any, _record: object) -> None:
    connection.execute(f"SET lock_timeout = '{BUSY_SECONDS}s'")
    connection.commit()


def _on_server_begin(connection: Connection) -> None:
    if not connection.get_execution_options().get(_READS, False):
        connection.exec_driver_sql(_ALONE)


def _on_connect(connection: sqlite3.Connection, _record: object) -> None:
    connection.isolation_level = None
    connection.execute(f"PRAGMA busy_timeout = {BUSY_SECONDS * 1000}")
    _write_ahead(connection)
    for pragma in ("synchronous = FULL", "foreign_keys = ON"):
        connection.execute(f"PRAGMA {pragma}")


def _write_ahead(connection: sqlite3.Connection) -> None:
    """Switch to the write-ahead log. SQLite does not wait for its lock when two processes switch a new file at once."""
    until = time.monotonic() + BUSY_SECONDS
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > until:
                raise
            time.sleep(0.01)


def _on_begin(connection: Connection) -> None:
    reads = connection.get_execution_options().get(_READS, False)
    connection.exec_driver_sql("BEGIN" if reads else "BEGIN IMMEDIATE")


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
