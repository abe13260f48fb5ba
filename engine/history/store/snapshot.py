"""Snapshots: where a conversation stood at one of its turns, so that opening it folds only what was said since.

A snapshot says nothing that the facts do not say, and is never believed over them. It names what it was made by: the
format of facts, the program, where the fold began, and the turn after which it stood. Where one of these is another,
or its text is damaged, it is as if there were none; the next turn that is kept then writes a new one.
"""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path

from pydantic import ValidationError
from sqlalchemy import Connection, Row, delete, insert, select

import engine
from engine.data.definitions import dialogs_directory
from engine.data.units import FILE
from engine.database import Database
from engine.dialog.facts.state import ConversationState
from engine.facts import FORMAT
from engine.history.store import tables
from engine.messages import Message

EVERY = 500
"""Turns from one snapshot to the next (own decision: folding them takes a tenth of a second)."""


class Snapshot(Message):
    """The ``state`` after a turn, folded from ``beginning``.

    ``facts`` is the format of facts and ``program`` the checksum of the program that folded them, ``utterance`` the
    one that made the turn.
    """

    seq: int
    utterance: str
    facts: int
    program: str
    beginning: ConversationState
    state: ConversationState

    @classmethod
    def taken(cls, seq: int, utterance: str, beginning: ConversationState, state: ConversationState) -> Snapshot:
        """A snapshot of this program."""
        return cls(seq=seq, utterance=utterance, facts=FORMAT, program=program(), beginning=beginning, state=state)


@cache
def program() -> str:
    """The checksum of all that a fold may rest on: the modules of the engine and the table of units.

    So a program that might fold anything otherwise makes its own snapshots, and nobody has to remember a number.
    """
    found, home = hashlib.sha256(), Path(engine.__file__).parent
    for path in [*sorted(home.rglob("*.py")), dialogs_directory() / FILE]:
        found.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return found.hexdigest()


def put(connection: Connection, conversation: str, snapshot: Snapshot) -> None:
    """Keep a snapshot in the place of the one before; none where its text would not say the same."""
    body = snapshot.model_dump_json(by_alias=True, warnings=False)
    if _read(body) != snapshot:
        return
    drop(connection, conversation)
    row = {"conversation": conversation, "seq": snapshot.seq, "body": body, "sha256": _sum(body)}
    connection.execute(insert(tables.snapshot).values(row))


def find(connection: Connection, conversation: str) -> Snapshot | None:
    """The snapshot of a conversation where it can be believed: whole, of this program, after a turn that is there."""
    snapshot, turn = tables.snapshot, tables.turn
    same = (turn.c.conversation == snapshot.c.conversation) & (turn.c.seq == snapshot.c.seq)
    query = select(snapshot, turn.c.utterance_id).join_from(snapshot, turn, same)
    row = connection.execute(query.where(snapshot.c.conversation == conversation)).first()
    return _believed(row) if row is not None else None


def drop(connection: Connection, conversation: str) -> None:
    """Keep none of a conversation."""
    connection.execute(delete(tables.snapshot).where(tables.snapshot.c.conversation == conversation))


def discard(database: Database) -> None:
    """Keep none at all: every conversation is folded anew when it is next opened."""
    with database.begin() as connection:
        connection.execute(delete(tables.snapshot))


def _believed(row: Row[tuple[object, ...]]) -> Snapshot | None:
    found = _read(row.body) if _sum(row.body) == row.sha256 else None
    if found is None or (found.facts, found.program) != (FORMAT, program()):
        return None
    return found if (found.seq, found.utterance) == (row.seq, row.utterance_id) else None


def _read(body: str) -> Snapshot | None:
    try:
        return Snapshot.model_validate_json(body)
    except ValidationError:
        return None


def _sum(body: str) -> str:
    return hashlib.sha256(body.encode()).hexdigest()
