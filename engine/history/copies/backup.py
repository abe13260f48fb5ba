"""A copy of the file of a record, made while programs write to it, and put back in its place.

Each copy is looked through before it counts: it opens, its conversations are folded, and its tables agree with them.
On a database server the server's own means make copies, and so does the archive of ``transfer``.
"""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from engine.database import BUSY_SECONDS, open_database
from engine.errors import DatabaseError, InputError, NewerDatabase
from engine.history.copies.audit import Audit, audit
from engine.history.store import tables, upgrades
from engine.new_file import new_file, on_disk, part_of, writing
from engine.trouble import told

IN_USE_SECONDS = 2
ASIDE = "%Y%m%dT%H%M%SZ"
"""How the moment stands in the name of a damaged file that was put aside."""
KEYS = {"turn": "utterance_id", "conversation": "id", "person": "conversation", "invitation": "code"}
"""By what the rows are known that a copy must not lack."""


def backup(record: Path, copy: Path) -> Audit:
    """Copy a record as it is at one moment to ``copy``, and look the copy through.

    A copy that can be read is kept also where the record does not agree with itself, which the audit says. Raises
    InputError where ``copy`` is there already or there is no record, DatabaseError where the record cannot be read,
    WorldError where the copy cannot be written.
    """
    if not record.is_file():
        raise InputError(f"there is no record at {record}")
    with new_file(copy) as part:
        with told(str(record)), closing(_opened(record)) as source:
            older = _format(source, str(record)) < upgrades.current()
            source.execute("VACUUM INTO ?", (str(part),))
        if not older:
            return _looked_through(part)
        with part_of(copy) as brought_up, writing(copy):
            shutil.copyfile(part, brought_up)
            return _looked_through(brought_up)


@dataclass(frozen=True)
class Restored:
    """What is in the record now; ``aside`` is where the damaged one lies that was there."""

    audit: Audit
    aside: Path | None


def restore(copy: Path, record: Path, now: datetime) -> Restored:
    """Put a copy in the place of a record. Whatever is killed, the old record is there or the new one; the copy stays.

    A record that holds anything which the copy lacks is left as it is, and so is one that a program has open:
    DatabaseError. A damaged one is put aside under another name. Snapshots are not put back: the facts are folded.
    """
    if not copy.is_file():
        raise InputError(f"there is no copy at {copy}")
    with part_of(record) as part:
        with told(str(copy)), closing(_opened(copy)) as source:
            _format(source, str(copy))
            source.execute("VACUUM INTO ?", (str(part),))
        _fold_anew(part)
        looked = _looked_through(part)
        if looked.difference:
            raise DatabaseError(f"{copy} does not agree with itself and was not put back: {looked.difference}")
        with writing(record):
            return Restored(looked, _put_in_place(part, record, now))


def _opened(path: Path, mode: str = "rw", seconds: float = BUSY_SECONDS) -> sqlite3.Connection:
    address = f"{path.absolute().as_uri()}?mode={mode}"
    return sqlite3.connect(address, uri=True, timeout=seconds, isolation_level=None)


def _tables(file: sqlite3.Connection) -> set[str]:
    return {name for (name,) in file.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}


def _format(file: sqlite3.Connection, place: str) -> int:
    """The format of a record; DatabaseError where this program cannot read it."""
    found = file.execute("SELECT version FROM rowhand_format").fetchone() if "rowhand_format" in _tables(file) else None
    if found is None:
        raise DatabaseError(f"{place} is not a record of this program: it was left untouched")
    if found[0] > upgrades.current():
        raise NewerDatabase(place, found[0], upgrades.current())
    return int(found[0])


def _fold_anew(part: Path) -> None:
    """Take the snapshots out, where the format has any."""
    with told(str(part)), closing(_opened(part)) as file:
        if tables.snapshot.name in _tables(file):
            file.execute(f"DELETE FROM {tables.snapshot.name}")


def _looked_through(part: Path) -> Audit:
    """Open a copy, fold and compare it, and leave it as a single file."""
    database = open_database(part)
    try:
        found = audit(database)
    finally:
        database.close()
    with told(str(part)), closing(_opened(part)) as file:
        file.execute("PRAGMA journal_mode = DELETE")
    return found


def _put_in_place(part: Path, record: Path, now: datetime) -> Path | None:
    on_disk(part)
    aside = None
    if record.exists():
        try:
            with _alone(record) as held:
                _must_not_lack(part, held, str(record))
                part.replace(record)
        except sqlite3.DatabaseError as error:
            _must_be_damage(record, error)
            aside = _put_aside(record, now)
    if not record.exists() or aside:
        _put_logs_aside(record, now)
        part.replace(record)
    on_disk(record.parent)
    return aside


@contextmanager
def _alone(record: Path) -> Iterator[sqlite3.Connection]:
    """The record with all of it in one file, while no other program has it open."""
    with closing(_opened(record, "ro")) as file:
        if file.execute("PRAGMA quick_check(1)").fetchone() != ("ok",):
            raise sqlite3.DatabaseError("malformed")
    with closing(_opened(record, seconds=IN_USE_SECONDS)) as file:
        if _tables(file):
            _format(file, str(record))
        if file.execute("PRAGMA journal_mode = DELETE").fetchone() != ("delete",):
            raise sqlite3.OperationalError("locked")
        file.execute("BEGIN EXCLUSIVE")
        yield file


def _must_not_lack(copy: Path, record: sqlite3.Connection, place: str) -> None:
    """The copy holds every turn, conversation, person and invitation of the record."""
    with closing(_opened(copy)) as file:
        for table, key in KEYS.items():
            if table in _tables(record):
                query = f"SELECT {key} FROM {table}"
                lacking = {*record.execute(query)} - {*file.execute(query)}
                if lacking:
                    what = f"{table}s" if len(lacking) > 1 else table
                    why = f"holds {len(lacking)} {what} that the copy lacks"
                    raise DatabaseError(
                        f"{place} {why}: to put the copy back all the same, back the record up and remove it"
                    )


def _must_be_damage(record: Path, error: sqlite3.DatabaseError) -> None:
    if "locked" in str(error):
        raise DatabaseError(f"{record} is open in another program: stop that one first") from error
    if "malformed" not in str(error) and "not a database" not in str(error):
        with told(str(record)):
            raise error


def _put_aside(record: Path, now: datetime) -> Path:
    """Give the damaged file another name as well, before its own goes to the copy."""
    aside = record.with_name(f"{record.name}.damaged-{now:{ASIDE}}")
    try:
        aside.hardlink_to(record)
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        shutil.copyfile(record, aside)
    return aside


def _put_logs_aside(record: Path, now: datetime) -> None:
    """A log that belongs to another file must not be taken for that of the copy; its index is made anew from it."""
    log, index = (record.with_name(f"{record.name}{end}") for end in ("-wal", "-shm"))
    if log.exists() and log.stat().st_size:
        log.replace(record.with_name(f"{record.name}.damaged-{now:{ASIDE}}-wal"))
    for rest in (log, index):
        rest.unlink(missing_ok=True)
