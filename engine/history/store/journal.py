"""The journal of every conversation: what was said, what was answered, what was kept from it.

A turn goes in whole, with its facts, the scripts they rest on, the messages it sends and the reminders it sets, or
not at all. Loading gives back what was written; nothing is computed again.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, Row, bindparam, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from engine.database import Database, insert_new
from engine.database_locks import take_name
from engine.errors import ConflictError, DatabaseError
from engine.history.store import scan as scans
from engine.history.store import snapshot as snapshots
from engine.history.store import tables
from engine.history.store.columns import without_nul
from engine.history.store.scan import Scan
from engine.history.store.snapshot import Snapshot
from engine.messages import Reply, Utterance
from engine.queues import outbox
from engine.reminders import reminder_changes
from engine.reminders.reminder import Change

Fact = dict[str, object]
"""One thing that happened, JSON-ready: always ``kind``, and ``slot`` and ``row`` where it is about those."""
STARTED = "started"
"""The kind of fact with which a dialog begins."""

_TURNS = (
    select(tables.turn, tables.fact.c.body)
    .select_from(tables.turn.outerjoin(tables.fact))
    .order_by(tables.turn.c.conversation, tables.turn.c.seq, tables.fact.c.ordinal)
)
_OF = tables.turn.c.conversation == bindparam("of")
_LATER = _TURNS.where(_OF, tables.turn.c.seq > bindparam("after"))
_ONE = _TURNS.where(tables.turn.c.utterance_id == bindparam("utterance"))
_NEWEST = select(func.max(tables.turn.c.seq)).where(_OF)
_TURN, _FACT = insert(tables.turn), insert(tables.fact)


@dataclass(frozen=True)
class NewTurn:
    """One turn to append: ``seq`` is the one after the conversation's last, from 1.

    ``scripts`` maps the hash of each dialog the facts rest on to its name and source. ``snapshot`` is where it leaves
    the conversation, where that is to be kept. ``scan`` is a document that its facts name.
    ``planter`` is what a nameless conversation is called from now on,
    unless another one of its farm is; ``planters_renamed`` are old and new names.
    """

    conversation: str
    seq: int
    utterance: Utterance
    reply: Reply
    facts: tuple[Fact, ...] = ()
    scripts: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    outgoing: tuple[outbox.Outgoing, ...] = ()
    reminders: tuple[Change, ...] = ()
    farm: str | None = None
    snapshot: Snapshot | None = None
    scan: Scan | None = None
    planter: str | None = None
    planters_renamed: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class StoredTurn:
    """One turn as it was kept."""

    conversation: str
    seq: int
    utterance_id: str
    said_at: datetime
    language: str
    heard: str
    spoken: bool
    confidence: float
    reply: Reply
    facts: tuple[Fact, ...]


@dataclass(frozen=True)
class Journal:
    """Every turn of every conversation in one database."""

    database: Database

    def turn(self, utterance_id: str) -> StoredTurn | None:
        """The turn that this utterance made, where it was heard before."""
        with self.database.read() as connection:
            return _one(connection, utterance_id)

    def turns(self, conversation: str, after: int = 0) -> tuple[StoredTurn, ...]:
        """The turns of a conversation with ``seq`` above ``after``, in order."""
        with self.database.read() as connection:
            return tuple(read_turns(connection, conversation, after))

    def last(self, conversation: str) -> int:
        """The ``seq`` of the newest turn, 0 where there is none."""
        with self.database.read() as connection:
            return _last(connection, conversation)

    def opened(self, conversation: str) -> tuple[Snapshot, str] | None:
        """The snapshot of a conversation, where one can be believed, and what was answered in its turn."""
        with self.database.read() as connection:
            found = snapshots.find(connection, conversation)
            turn = found and _one(connection, found.utterance)
            return (found, turn.reply.text) if found and turn else None

    def started(self, conversation: str) -> datetime | None:
        """When the newest dialog of a conversation was started; None where none ever was."""
        begun = select(func.max(tables.turn.c.said_at)).select_from(tables.turn.join(tables.fact))
        begun = begun.where(tables.turn.c.conversation == conversation, tables.fact.c.kind == STARTED)
        with self.database.read() as connection:
            return connection.execute(begun).scalar()

    def append(self, turn: NewTurn) -> StoredTurn:
        """Keep a turn, once: an utterance that was heard before gives back its stored turn.

        Raises ConflictError when another process moved the conversation on, DatabaseError when it cannot be kept.
        """
        try:
            with self.database.beside(turn.conversation) as connection:
                return _append(connection, turn)
        except IntegrityError as error:
            return self._explain(turn, error)

    def script(self, digest: str) -> str | None:
        """The source of a dialog that some conversation rests on."""
        source = select(tables.script.c.source).where(tables.script.c.hash == digest)
        with self.database.read() as connection:
            return connection.execute(source).scalar()

    def _explain(self, turn: NewTurn, error: IntegrityError) -> StoredTurn:
        stored = self.turn(turn.utterance.id)
        if stored is not None:
            return stored
        if self.last(turn.conversation) >= turn.seq:
            raise _conflict(turn) from error
        raise DatabaseError(f"turn {turn.seq} of {turn.conversation} cannot be kept: {error.orig}") from error


def read_turns(connection: Connection, conversation: str, after: int = 0) -> Iterator[StoredTurn]:
    """The turns of a conversation with ``seq`` above ``after``, in order, inside somebody's transaction."""
    return _stored(connection.execute(_LATER, {"of": conversation, "after": after}))


def _append(connection: Connection, turn: NewTurn) -> StoredTurn:
    if turn.seq != _last(connection, turn.conversation) + 1:
        if (known := _one(connection, turn.utterance.id)) is not None:
            return known
        raise _conflict(turn)
    if turn.seq == 1:
        started = {"id": turn.conversation, "farm": turn.farm, "created": turn.utterance.said_at}
        insert_new(connection, tables.conversation, [started])
    scripts = [{"hash": key, "name": name, "source": source} for key, (name, source) in turn.scripts.items()]
    insert_new(connection, tables.script, scripts)
    number = connection.execute(_TURN, _columns(turn)).inserted_primary_key
    assert number is not None
    if turn.facts:
        connection.execute(_FACT, list(_fact_rows(number[0], turn.facts)))
    outbox.put(connection, turn.outgoing)
    reminder_changes.apply(connection, turn.conversation, turn.reminders, turn.utterance.said_at)
    if turn.scan is not None:
        scans.put(connection, turn.scan)
    _call(connection, turn)
    if turn.snapshot is not None:
        snapshots.put(connection, turn.conversation, turn.snapshot)
    return _kept(turn, connection.dialect.name == "postgresql")


def _kept(turn: NewTurn, on_server: bool) -> StoredTurn:
    """The turn as it would be read back."""
    said = turn.utterance
    return StoredTurn(
        conversation=turn.conversation,
        seq=turn.seq,
        utterance_id=said.id,
        said_at=said.said_at.astimezone(UTC),
        language=said.language,
        heard=without_nul(said.text) if on_server else said.text,
        spoken=said.spoken,
        confidence=said.confidence,
        reply=turn.reply,
        facts=tuple(json.loads(json.dumps(fact, ensure_ascii=False, allow_nan=False)) for fact in turn.facts),
    )


def _call(connection: Connection, turn: NewTurn) -> None:
    """Give the conversation the name of its planter."""
    table = tables.conversation
    mine = update(table).where(table.c.id == turn.conversation)
    for old, new in turn.planters_renamed:
        connection.execute(mine.where(table.c.planter == old).values(planter=new))
    if turn.planter is not None:
        mine_of = select(table.c.farm).where(table.c.id == turn.conversation)
        take_name(connection, f"farm {connection.execute(mine_of).scalar()}")  # two may be named at once
        farm = mine_of.scalar_subquery()
        taken = select(table.c.id).where(table.c.farm == farm, table.c.planter == turn.planter)
        if connection.execute(taken).first() is None:
            connection.execute(mine.where(table.c.planter.is_(None)).values(planter=turn.planter))


def _columns(turn: NewTurn) -> dict[str, Any]:
    said = turn.utterance
    return {
        "conversation": turn.conversation,
        "seq": turn.seq,
        "utterance_id": said.id,
        "said_at": said.said_at,
        "language": said.language,
        "heard": said.text,
        "spoken": said.spoken,
        "confidence": said.confidence,
        "reply": turn.reply.model_dump(mode="json"),
    }


def _fact_rows(turn: int, facts: tuple[Fact, ...]) -> Iterator[dict[str, Any]]:
    for ordinal, fact in enumerate(facts):
        about = {"kind": fact["kind"], "slot": fact.get("slot"), "row": fact.get("row")}
        yield {"turn": turn, "ordinal": ordinal, "body": fact, **about}


def _conflict(turn: NewTurn) -> ConflictError:
    return ConflictError(f"another process moved {turn.conversation} on before turn {turn.seq}: it is tried again")


def _last(connection: Connection, conversation: str) -> int:
    return connection.execute(_NEWEST, {"of": conversation}).scalar() or 0


def _one(connection: Connection, utterance_id: str) -> StoredTurn | None:
    return next(_stored(connection.execute(_ONE, {"utterance": utterance_id})), None)


def _stored(rows: Any) -> Iterator[StoredTurn]:
    for _, group in groupby(rows, key=lambda row: row.id):
        lines = list(group)
        yield _turn(lines[0], tuple(line.body for line in lines if line.body is not None))


def _turn(row: Row[Any], facts: tuple[Fact, ...]) -> StoredTurn:
    return StoredTurn(
        conversation=row.conversation,
        seq=row.seq,
        utterance_id=row.utterance_id,
        said_at=row.said_at,
        language=row.language,
        heard=row.heard,
        spoken=row.spoken,
        confidence=row.confidence,
        reply=Reply.model_validate(row.reply),
        facts=facts,
    )
