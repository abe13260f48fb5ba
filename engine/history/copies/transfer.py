"""A whole record written into an archive, and an archive taken into an empty record: all of it or nothing."""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Iterator, Mapping
from datetime import datetime
from itertools import groupby, islice
from pathlib import Path
from typing import NamedTuple

from pydantic import ValidationError
from sqlalchemy import Connection, Dialect, Table, insert, literal, select
from sqlalchemy.exc import IntegrityError

from engine.database import Database
from engine.dialog.facts.state import ConversationState
from engine.errors import ArchiveRefused, DatabaseError, UnreadableFact
from engine.facts import FIRST, read_fact
from engine.history.copies import digest
from engine.history.copies.archive import FORMAT, MANIFEST, TRAVELLING, Archive, Manifest, Packed, Row, line_of, member
from engine.history.store import tables
from engine.history.store.columns import TextColumn, without_nul
from engine.history.store.turn_facts import dated
from engine.new_file import new_file, writing

AT_ONCE = 500
_STRANGE = (IntegrityError, ValidationError, LookupError, ValueError, TypeError, AttributeError, ArithmeticError)
"""What comes of an archive that somebody made by hand: rows that refer to nothing, facts that never happened so."""
_FREED: Mapping[str, Row] = {tables.outbox.name: {"worker": None, "leased_until": None}}


def export_record(database: Database, path: Path) -> Manifest:
    """Write the record as it is at one moment, beside any program that goes on writing to it.

    Raises InputError where ``path`` is there already, WorldError where record or file fail.
    """
    with new_file(path) as part, writing(path), zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as packed:
        with database.read() as connection:
            manifest = Manifest(
                rowhand_archive=FORMAT,
                tables={table.name: _pack(packed, connection, table) for table in TRAVELLING},
                facts=_newest_fact(connection),
                conversations=digest.digests(connection),
            )
        packed.writestr(MANIFEST, manifest.model_dump_json(indent=1))
    return manifest


def import_record(archive: Archive, database: Database) -> None:
    """Take an archive that was verified into an empty record, and compare what is there then with what was written.

    One transaction: a program that is killed meanwhile leaves the record empty. Raises DatabaseError where it is not
    empty, ArchiveRefused where the archive does not hold together.
    """
    place = str(archive.path)
    try:
        with database.begin() as connection:
            _must_be_empty(connection, database.place)
            written = {table.name: _unpack(connection, table, archive.rows(table)) for table in TRAVELLING}
            if not _same(connection, archive, written):
                raise ArchiveRefused(place, "does not hold together: what was read back is not what was written")
    except _STRANGE as error:
        raise ArchiveRefused(place, "does not hold together: its tables do not fit each other") from error


# ---- out


def _pack(packed: zipfile.ZipFile, connection: Connection, table: Table) -> Packed:
    summed = _Sum()
    with packed.open(member(table), "w", force_zip64=True) as file:
        for row in _rows(connection, table):
            file.write(summed.add(line_of(table, row | _FREED.get(table.name, {}))))
    return summed.packed


class _Sum:
    """Counts and sums up lines."""

    def __init__(self) -> None:
        self._rows, self._bytes, self._digest = 0, 0, hashlib.sha256()

    def add(self, line: bytes) -> bytes:
        self._rows, self._bytes = self._rows + 1, self._bytes + len(line)
        self._digest.update(line)
        return line

    @property
    def packed(self) -> Packed:
        return Packed(rows=self._rows, bytes=self._bytes, sha256=self._digest.hexdigest())


def _rows(connection: Connection, table: Table) -> Iterator[Row]:
    """The rows of a table; facts in the order of their turns."""
    order = (table.c.turn, table.c.ordinal) if table is tables.fact else tuple(table.primary_key.columns)
    found = connection.execute(select(table).order_by(*order), execution_options={"yield_per": AT_ONCE})
    return (dict(row) for row in found.mappings())


def _newest_fact(connection: Connection) -> int:
    formats = (row["body"].get("format", FIRST) for row in _rows(connection, tables.fact))
    return max((one for one in formats if isinstance(one, int)), default=FIRST)


# ---- in


def _must_be_empty(connection: Connection, place: str) -> None:
    if any(connection.execute(select(literal(1)).select_from(table).limit(1)).first() for table in TRAVELLING):
        raise DatabaseError(f"{place} is not empty: take the archive into a new record; nothing was changed")


def _unpack(connection: Connection, table: Table, rows: Iterator[Row]) -> Packed:
    """Insert the rows; what they come to as lines."""
    summed = _Sum()
    while some := [_held(table, row, connection.dialect) for row in islice(rows, AT_ONCE)]:
        for row in some:
            summed.add(line_of(table, row))
        connection.execute(insert(table), some)
    _count_on(connection, table)
    return summed.packed


def _held(table: Table, row: Row, dialect: Dialect) -> Row:
    """A row as this database can hold it."""
    if dialect.name != "postgresql":
        return row
    words = {column.name for column in table.columns if isinstance(column.type, TextColumn)}
    return {name: without_nul(one) if name in words and isinstance(one, str) else one for name, one in row.items()}


def _count_on(connection: Connection, table: Table) -> None:
    """Let PostgreSQL number what comes from now on behind what was taken in, as SQLite does by itself."""
    number = table.autoincrement_column
    if number is not None and connection.dialect.name == "postgresql":
        counted = f"SELECT setval(pg_get_serial_sequence('{table.name}', '{number.name}'), max({number.name}))"
        connection.exec_driver_sql(f"{counted} FROM {table.name} HAVING count(*) > 0")


def _same(connection: Connection, archive: Archive, written: Mapping[str, Packed]) -> bool:
    """Whether every line, every conversation and the fold of each are those of the archive."""
    for table in TRAVELLING:
        summed = _Sum()
        for row in _rows(connection, table):
            summed.add(line_of(table, row))
        if summed.packed != written[table.name]:
            return False
    if digest.digests(connection) != archive.manifest.conversations:
        return False
    return digest.states(connection) == _states(archive)


class _Turn(NamedTuple):
    """What a fold needs of a turn beside its facts."""

    conversation: str
    language: str
    said_at: datetime


def _states(archive: Archive) -> dict[str, ConversationState]:
    """Where every conversation stands by the archive alone."""
    turns = {
        row["id"]: _Turn(row["conversation"], row["language"], row["said_at"]) for row in archive.rows(tables.turn)
    }
    found: dict[str, ConversationState] = {}
    for turn in turns.values():
        found.setdefault(turn.conversation, digest.beginning(turn.language))
    unreadable: set[str] = set()
    for number, facts in groupby(archive.rows(tables.fact), key=lambda row: row["turn"]):
        talk, said_at = turns[number].conversation, turns[number].said_at
        try:
            new = [dated(read_fact(row["body"]), said_at) for row in facts] if talk not in unreadable else []
        except UnreadableFact:
            unreadable.add(talk)
            continue
        found[talk] = digest.after(found[talk], new)
    return found
