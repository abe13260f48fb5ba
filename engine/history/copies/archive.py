"""The archive of a record: a zip file with a manifest and one file of JSON Lines for each table.

What travels is all that a conversation rests on, and all that still has to happen: reminders with each time they rang,
since they ring on; the outbox, since a message that waits has to go and the key of one that went is unique for ever;
the inbox, since what was confirmed to a chat server never comes again. Leases on messages are given up, as the program
that held them is not the one that sends. The heartbeat stays: it tells when a program was awake by the clock of one
computer; and what the program is called in a chat, which belongs to its account there. Snapshots stay too: they say
nothing that the facts do not say, and whoever takes the archive in folds the facts and makes snapshots anew as the
conversation goes on.

A file is looked at before it is believed: its names, sizes and checksums, then each value of each line.
"""

from __future__ import annotations

import hashlib
import json
import math
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Any

from pydantic import Field, ValidationError
from sqlalchemy import Boolean, Column, Float, Integer, Table

from engine.errors import ArchiveRefused
from engine.facts import FORMAT as FACT_FORMAT
from engine.frozen_model import FrozenModel
from engine.history.store import tables
from engine.history.store.columns import Instant, Json, instant_read, instant_written

FORMAT = 4
"""Raised when a table that travels changes; ``STEPS`` then brings up what was written before."""
MANIFEST = "manifest.json"
STAYING = (tables.version, tables.heartbeat, tables.snapshot, tables.account, tables.hold)
TRAVELLING: tuple[Table, ...] = tuple(one for one in tables.metadata.sorted_tables if one not in STAYING)
"""Each after those it refers to."""
MOST_BYTES, MOST_MANIFEST, MOST_LINE = 8 << 30, 64 << 20, 64 << 20
MOST_GROWTH, SMALL = 200, 16 << 20
"""A file may unpack to so many times its size, and to ``SMALL`` bytes in any case (own decision: a line said three
thousand times came to 31 times its size, an evening to 12)."""

Row = dict[str, Any]
Step = Callable[[str, Row], Row]


def _with_inviter(table: str, row: Row) -> Row:
    """Of an invitation it was not kept who made it."""
    return {**row, "invited_by": None} if table == tables.invitation.name else row


def _with_pace(table: str, row: Row) -> Row:
    """Of an update it was not kept whether it takes long."""
    return {**row, "slow": False} if table == tables.inbox.name else row


STEPS: Mapping[int, Step] = {1: lambda _, row: row, 2: _with_inviter, 3: _with_pace}
"""From each format to the next: a row of a table as it was written to what it is now."""
ADDED: Mapping[int, frozenset[str]] = {2: frozenset({tables.document.name})}
"""The tables that came with a format: an archive of an earlier one holds none of them."""


class Packed(FrozenModel):
    """One file of the archive."""

    rows: int = Field(ge=0)
    bytes: int = Field(ge=0)
    sha256: str


class ConversationDigest(FrozenModel):
    """How many turns a conversation has, and the checksum over them in their order."""

    turns: int = Field(ge=0)
    sha256: str


class Manifest(FrozenModel):
    """What is in an archive. ``facts`` is the newest format of a fact in it."""

    rowhand_archive: int
    facts: int
    tables: dict[str, Packed]
    conversations: dict[str, ConversationDigest]


def member(table: Table) -> str:
    """The name of the file of a table."""
    return f"{table.name}.jsonl"


# ---- rows as lines


def line_of(table: Table, row: Row) -> bytes:
    """A row as a line: plain ASCII, each column by its name."""
    plain = {
        column.name: instant_written(row[column.name]) if isinstance(row[column.name], datetime) else row[column.name]
        for column in table.columns
    }
    return json.dumps(plain, allow_nan=False).encode() + b"\n"


def row_of(table: Table, plain: Any) -> Row:
    """The row of a line that was read; ValueError where it is none of this table."""
    if not isinstance(plain, dict) or set(plain) != {column.name for column in table.columns}:
        raise ValueError("other columns")
    return {column.name: _cell(column, plain[column.name]) for column in table.columns}


def _cell(column: Column[Any], value: Any) -> Any:
    if value is None:
        if not column.nullable:
            raise ValueError(f"no {column.name}")
        return None
    match column.type:
        case Json() if isinstance(value, dict):
            return value
        case Instant() if isinstance(value, str):
            return instant_read(value)
        case Boolean() if isinstance(value, bool):
            return value
        case Integer() if isinstance(value, int) and not isinstance(value, bool) and abs(value) < 1 << 63:
            return value
        case Float() if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
            return float(value)
        case Json() | Instant() | Boolean() | Integer() | Float():
            raise ValueError(f"another {column.name}")
        case _ if isinstance(value, str):
            return value
        case _:
            raise ValueError(f"another {column.name}")


# ---- reading


@dataclass(frozen=True)
class Archive:
    """An archive whose names and sizes were found good; ``rows`` gives what is in it."""

    path: Path
    manifest: Manifest
    _zip: zipfile.ZipFile

    def verify(self) -> None:
        """Read every file to its end and compare it with the manifest; ArchiveRefused where one differs."""
        for table in TRAVELLING:
            for _ in self.rows(table):
                pass

    def rows(self, table: Table) -> Iterator[Row]:
        """The rows of a table in their order, in the shape of now; ArchiveRefused where they are not as written."""
        packed, digest, count = self.manifest.tables.get(table.name), hashlib.sha256(), 0
        if packed is None:
            return
        with _judged(self.path), self._zip.open(member(table)) as file:
            for line in _lines(file):
                digest.update(line)
                count += 1
                yield self._row(table, line, count)
        if (count, digest.hexdigest()) != (packed.rows, packed.sha256):
            raise ArchiveRefused(str(self.path), f"is damaged: {member(table)} is not what was written")

    def _row(self, table: Table, line: bytes, number: int) -> Row:
        try:
            row = json.loads(line, parse_constant=_no_number)
            for step in range(self.manifest.rowhand_archive, FORMAT):
                row = STEPS[step](table.name, row)
            return row_of(table, row)
        except (ValueError, KeyError, TypeError, RecursionError) as error:
            why = f"is damaged: line {number} of {member(table)} cannot be read"
            raise ArchiveRefused(str(self.path), why) from error


@contextmanager
def open_archive(path: Path) -> Iterator[Archive]:
    """Open an archive to read it. Raises ArchiveRefused before anything is unpacked where it cannot be believed."""
    with _judged(path):
        if not path.is_file():
            raise ArchiveRefused(str(path), "is no file")
        packed = zipfile.ZipFile(path)
    with packed:
        with _judged(path):
            _weigh(path, packed.infolist())
            manifest = _manifest(path, packed)
        yield Archive(path, manifest, packed)


def _weigh(path: Path, found: list[zipfile.ZipInfo]) -> None:
    """Names and sizes as they are declared: these and no others, each once, none that grows beyond bounds."""
    names = sorted(one.filename for one in found)
    if not any(names == sorted([MANIFEST, *map(member, _travelled(number))]) for number in range(1, FORMAT + 1)):
        raise ArchiveRefused(str(path), "is no archive of a record: it holds other files")
    if any(one.flag_bits & 1 for one in found):
        raise ArchiveRefused(str(path), "is locked with a password")
    if sum(one.file_size for one in found) > MOST_BYTES or any(map(_grows, found)):
        raise ArchiveRefused(str(path), "would grow beyond bounds")


def _travelled(number: int) -> list[Table]:
    """The tables that an archive of a format holds."""
    later = {name for added, names in ADDED.items() if added > number for name in names}
    return [table for table in TRAVELLING if table.name not in later]


def _grows(one: zipfile.ZipInfo) -> bool:
    most = MOST_MANIFEST if one.filename == MANIFEST else MOST_BYTES
    return one.file_size > most or one.file_size > max(one.compress_size * MOST_GROWTH, SMALL)


def _manifest(path: Path, packed: zipfile.ZipFile) -> Manifest:
    with packed.open(MANIFEST) as file:
        told = json.loads(file.read(MOST_MANIFEST))
    number = told.get("rowhand_archive") if isinstance(told, dict) else None
    if not isinstance(number, int):
        raise ArchiveRefused(str(path), "is no archive of a record")
    facts = told.get("facts")
    if number > FORMAT or (isinstance(facts, int) and facts > FACT_FORMAT):
        raise ArchiveRefused(str(path), f"was written by a newer Rowhand (format {number}): update the program")
    manifest = Manifest.model_validate(told)
    if manifest.tables.keys() != {table.name for table in _travelled(number)}:
        raise ArchiveRefused(str(path), "is no archive of a record: it holds other files")
    sizes = {one.filename: one.file_size for one in packed.infolist() if one.filename != MANIFEST}
    if {f"{name}.jsonl": one.bytes for name, one in manifest.tables.items()} != sizes:
        raise ArchiveRefused(str(path), "is damaged: its files are not as long as written")
    return manifest


def _lines(file: IO[bytes]) -> Iterator[bytes]:
    while line := file.readline(MOST_LINE):
        if not line.endswith(b"\n"):
            raise ValueError("a line without its end")
        yield line


def _no_number(name: str) -> None:
    raise ValueError(name)


@contextmanager
def _judged(path: Path) -> Iterator[None]:
    try:
        yield
    except (zipfile.BadZipFile, zlib.error, EOFError, ValidationError, ValueError, RecursionError) as error:
        raise ArchiveRefused(str(path), "is no archive of a record, or is damaged") from error
    except (NotImplementedError, RuntimeError) as error:
        raise ArchiveRefused(str(path), "is packed in a way that is not known here") from error
    except OSError as error:
        raise ArchiveRefused(str(path), f"cannot be read: {error.strerror or type(error).__name__}") from error
