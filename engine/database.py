"""The file (or server) that keeps everything, opened safely.

On SQLite every commit is on the disk before it returns (write-ahead log, synchronous FULL) and foreign keys hold. There
a transaction that writes takes the one lock of the record at its start, so that writers come one after another and
never deadlock. On PostgreSQL one that writes ``beside`` others takes its part in that lock and the whole lock of its
conversation; any other one takes the whole lock of the record. One that reads sees one moment, beside any writer. What
only one kind of database understands stands in this module, in ``database_locks``, in ``triggers``, in ``upgrades`` and
in ``backup``.
"""

from __future__ import annotations

import sqlite3
import time
import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, QueuePool, Table, create_engine, event
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError

from engine.database_locks import ALONE, BESIDE, lock, take_name
from engine.errors import DatabaseError
from engine.history.store import upgrades
from engine.joint_transaction import JointTransaction, JointTransactions, noted, undoable
from engine.record_file import FileGuard, begin_writing, make_private
from engine.trouble import told

BUSY_SECONDS = 10
_READS = "rowhand_reads"
_SNAPSHOT = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}


_joints = JointTransactions()


@dataclass(frozen=True)
class Database:
    """An open record. ``place`` is how to name it to a person."""

    engine: Engine
    place: str

    @contextmanager
    def begin(self) -> Iterator[Connection]:
        """One transaction that writes: all of it or none. IntegrityError passes, other trouble is DatabaseError."""
        with self._writing(ALONE) as connection:
            yield connection

    @contextmanager
    def beside(self, conversation: str = "") -> Iterator[Connection]:
        """The same for what may be written while others write: only those of the same conversation are waited for."""
        with self._writing(BESIDE) as connection:
            if conversation:
                take_name(connection, conversation)
            yield connection

    @contextmanager
    def read(self) -> Iterator[Connection]:
        """One transaction that only reads, beside any writer; inside ``together`` or ``at_one_moment`` part of that."""
        joint, reading = self._joint(), _joints.reading.get(self.engine)
        options = {_READS: True} | (_SNAPSHOT if self.is_server else {})
        with told(self.place):
            if joint is not None:
                with noted(joint):
                    yield joint.connection
            elif reading is not None:
                yield reading
            else:
                with self.engine.execution_options(**options).begin() as connection:
                    yield connection

    @contextmanager
    def at_one_moment(self) -> Iterator[None]:
        """What this thread reads meanwhile is read in one transaction; what it writes goes its own way."""
        with self.read() as connection:
            if self._joint() is not None or self.engine in _joints.reading:
                yield
                return
            _joints.reading[self.engine] = connection
            try:
                yield
            finally:
                del _joints.reading[self.engine]

    @contextmanager
    def together(self) -> Iterator[None]:
        """What this thread reads and writes meanwhile is one transaction, kept as a whole when this ends.

        A part that raises is undone alone. Where the database itself fails, nothing is kept: DatabaseError at the end.
        """
        if self._joint() is not None:
            yield
            return
        with told(self.place), self.engine.begin() as connection:
            joint = JointTransaction(connection)
            _joints.of[self.engine] = joint
            try:
                yield
            finally:
                del _joints.of[self.engine]
            if joint.failed:
                raise DatabaseError(f"{self.place} failed, and what was written together with it is not kept")

    @property
    def is_server(self) -> bool:
        return self.engine.dialect.name == "postgresql"

    @property
    def moment(self) -> object | None:
        """The same while this thread has the record for itself, on SQLite inside ``together``: nobody else writes."""
        return joint.moment if (joint := self._joint()) and not self.is_server else None

    def _joint(self) -> JointTransaction | None:
        return _joints.of.get(self.engine)

    @contextmanager
    def _writing(self, part: str) -> Iterator[Connection]:
        joint = self._joint()
        with told(self.place):
            if joint is None:
                with self.engine.begin() as connection:
                    lock(connection, part)
                    yield connection
            else:
                with noted(joint), undoable(joint.connection):
                    lock(joint.connection, part)
                    yield joint.connection

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
        connection.execute(dialect_insert(connection, table).on_conflict_do_nothing(), rows)


def dialect_insert(connection: Connection, table: Table) -> Any:
    """An INSERT that knows what is there already."""
    return (postgresql if connection.dialect.name == "postgresql" else sqlite).insert(table)


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
    """A server whose writers wait for each other as long as those of a file do."""
    event.listen(engine, "connect", _on_server_connect)
    return engine


def _on_server_connect(connection: Any, _record: object) -> None:
    connection.execute(f"SET lock_timeout = '{BUSY_SECONDS}s'")
    connection.commit()


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
    if connection.get_execution_options().get(_READS, False):
        connection.exec_driver_sql("BEGIN")
    else:
        begin_writing(connection)
