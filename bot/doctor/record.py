"""The record: whether it opens, can be written and is whole, without making, upgrading or changing it; and its daily
copies: whether there are any, and how old the newest one is."""

from __future__ import annotations

import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from sqlalchemy import Connection, Engine, create_engine, func, select
from sqlalchemy.exc import SQLAlchemyError

from bot.doctor.finding import Finding, note, ok, wrong
from bot.record.place import file_of
from bot.record.rotation import Rotation
from bot.settings import Settings
from engine.database import address
from engine.errors import DatabaseError
from engine.history.store import tables, upgrades

TIGHT_BYTES, LITTLE_BYTES = 50_000_000, 500_000_000
"""Free space below which evenings are in danger, and below which it is worth knowing (common practice, no source)."""
PROBE_BYTES = 65_536
BUSY_SECONDS = 3
OLD = timedelta(days=2)
"""So long without a copy is worth knowing while the record is used (own decision)."""


@dataclass(frozen=True)
class RecordTimes:
    """Until when the record goes: its newest turn, and when a program was last awake on it."""

    newest_turn: datetime | None
    last_beat: datetime | None


def examine(place: str) -> Iterator[Finding]:
    """What is to be said of the record at a path or a database URL."""
    if place == ":memory:":
        yield note("record", "it is in memory: nothing is kept", "set ROWHAND_DATABASE to a file")
        return
    if "://" in place:
        yield _server(place)
        return
    path = Path(place).expanduser()
    yield _folder(path)
    yield _disk(path)
    if not path.exists():
        yield note("record", f"{path} is not there yet", "the first conversation makes it")
    else:
        yield _file(path)


def copies(settings: Settings, today: date) -> Iterator[Finding]:
    """The daily copies. Nothing is said of a record that is no file, or not there yet."""
    record = file_of(settings.database)
    if record is None or not record.is_file():
        return
    rotation = Rotation.of(settings)
    if rotation is None:
        yield note("copies", "no daily copies of the record are kept", "set ROWHAND_BACKUPS_KEPT to how many you want")
        return
    newest = rotation.newest()
    if newest is None:
        yield note("copies", f"there is no copy in {rotation.folder} yet", "rowhand record backup makes one")
    elif today - newest > OLD:
        why = f"the newest of {len(rotation.copies())} in {rotation.folder} is of {newest.isoformat()}"
        yield note("copies", why, "none is made on days without a turn; else try rowhand record backup")
    else:
        yield ok("copies", f"{len(rotation.copies())} in {rotation.folder}, the newest of {newest.isoformat()}")


def times(place: str) -> RecordTimes | None:
    """What the record says of the time; None where it cannot be read or was never begun."""
    if "://" not in place and not Path(place).expanduser().is_file():
        return None
    try:
        engine = create_engine(address(place)) if "://" in place else _reading(Path(place).expanduser())
    except (SQLAlchemyError, ImportError):
        return None
    try:
        with engine.connect() as connection:
            return RecordTimes(
                connection.execute(select(func.max(tables.turn.c.said_at))).scalar(),
                connection.execute(select(func.max(tables.heartbeat.c.seen_at))).scalar(),
            )
    except (SQLAlchemyError, ValueError):
        return None
    finally:
        engine.dispose()


def _reading(path: Path) -> Engine:
    """Reads a file and never makes or changes it."""
    address = f"{path.absolute().as_uri()}?mode=ro"
    return create_engine("sqlite://", creator=lambda: sqlite3.connect(address, uri=True, timeout=BUSY_SECONDS))


def _folder(path: Path) -> Finding:
    """The folder, or the nearest one above it that is there, takes a file and keeps it."""
    folder = next(one for one in (path.parent, *path.parents) if one.exists())
    try:
        with tempfile.TemporaryFile(dir=folder) as probe:
            probe.write(bytes(PROBE_BYTES))
            probe.flush()
    except OSError as error:
        return wrong("folder", f"{folder} cannot be written: {error.strerror}", "check who owns it, and its disk")
    return ok("folder", f"{folder} can be written")


def _disk(path: Path) -> Finding:
    folder = next(one for one in path.parents if one.exists())
    free = shutil.disk_usage(folder).free
    told = f"{free / 1e9:.1f} GB free"
    if free < TIGHT_BYTES:
        return wrong("disk", told, "make room: nothing can be kept on a full disk")
    return note("disk", told, "make room soon") if free < LITTLE_BYTES else ok("disk", told)


def _file(path: Path) -> Finding:
    if path.is_dir():
        return wrong("record", f"{path} is a folder", "set ROWHAND_DATABASE to a file")
    try:
        address = f"{path.absolute().as_uri()}?mode=rw"
        with closing(sqlite3.connect(address, uri=True, timeout=BUSY_SECONDS, isolation_level=None)) as file:
            whole = file.execute("PRAGMA quick_check(1)").fetchone()[0]
            file.execute("BEGIN IMMEDIATE")
            file.execute("CREATE TABLE doctor_probe (id INTEGER)")
            file.execute("ROLLBACK")
    except sqlite3.Error as error:
        return _broken(path, str(error))
    if whole != "ok":
        return _broken(path, "malformed")
    return _opened(_reading(path), str(path), "opens and can be written")


def _server(url: str) -> Finding:
    try:
        return _opened(create_engine(address(url)), "the database server", "answers")
    except (SQLAlchemyError, ImportError) as error:
        return wrong("record", f"the database address cannot be used: {type(error).__name__}", "check ROWHAND_DATABASE")


def _broken(path: Path, said: str) -> Finding:
    signs = (
        ("not a database", "is not a record of this program", "set ROWHAND_DATABASE to another file"),
        ("malformed", "is damaged", "put back a copy, and keep the damaged file for rescue"),
        ("readonly", "cannot be written", "check who owns the file and its folder"),
        ("unable to open", "cannot be opened", "check who owns the file and its folder"),
        ("locked", "is held by another program", "close that one, or wait for it"),
        ("full", "cannot be written on a full disk", "make room"),
    )
    found = next((sign for sign in signs if sign[0] in said), ("", f"cannot be used: {said}", "check its disk"))
    return wrong("record", f"{path} {found[1]}", found[2])


def _opened(engine: Engine, name: str, told: str) -> Finding:
    try:
        with engine.connect() as connection:
            return _format(connection, name, told)
    except DatabaseError:
        return wrong("record", f"{name} holds the data of another program", "set ROWHAND_DATABASE to another file")
    except SQLAlchemyError as error:
        return wrong("record", f"{name} cannot be used: {type(error).__name__}", "check ROWHAND_DATABASE")
    finally:
        engine.dispose()


def _format(connection: Connection, name: str, told: str) -> Finding:
    found, known = upgrades.found(connection, name), upgrades.current()
    if found == known:
        return ok("record", f"{name} {told}, format {found}")
    if found > known:
        return wrong("record", f"{name} has format {found}, this program knows {known}", "update the program")
    if not found:
        return note("record", f"{name} is empty", "the first conversation fills it")
    return note(
        "record", f"{name} has format {found}", f"the next start brings it to {known}; keep a copy of it before"
    )
