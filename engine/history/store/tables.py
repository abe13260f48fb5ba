"""The tables of the record, the same on SQLite and PostgreSQL.

A turn and its facts are written once and never changed; triggers refuse any other statement.
"""

from __future__ import annotations

from functools import cache

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Connection,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    Table,
    UniqueConstraint,
    make_url,
)
from sqlalchemy.schema import CreateIndex, CreateTable, ExecutableDDLElement

from engine.history.store.columns import Instant, Json, TextColumn
from engine.history.store.triggers import only_forgets_whose, written_once

metadata = MetaData()

version = Table("rowhand_format", metadata, Column("version", Integer, primary_key=True, autoincrement=False))

conversation = Table(
    "conversation",
    metadata,
    Column("id", TextColumn, primary_key=True),
    Column("farm", TextColumn),
    Column("created", Instant, nullable=False),
    Column("planter", TextColumn),
)

script = Table(
    "script",
    metadata,
    Column("hash", TextColumn, primary_key=True),
    Column("name", TextColumn, nullable=False),
    Column("source", TextColumn, nullable=False),
)

turn = Table(
    "turn",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("conversation", TextColumn, ForeignKey("conversation.id"), nullable=False),
    Column("seq", Integer, nullable=False),
    Column("utterance_id", TextColumn, nullable=False, unique=True),
    Column("said_at", Instant, nullable=False),
    Column("language", TextColumn, nullable=False),
    Column("heard", TextColumn, nullable=False),
    Column("spoken", Boolean, nullable=False),
    Column("confidence", Float, nullable=False),
    Column("reply", Json, nullable=False),
    UniqueConstraint("conversation", "seq"),
)

fact = Table(
    "fact",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("turn", Integer, ForeignKey("turn.id"), nullable=False),
    Column("ordinal", Integer, nullable=False),
    Column("kind", TextColumn, nullable=False),
    Column("slot", TextColumn),
    Column("row", Integer),
    Column("body", Json, nullable=False),
    UniqueConstraint("turn", "ordinal"),
    Index("fact_by_kind", "kind", "turn"),
    Index("fact_by_row", "row", "slot", "turn"),
)

outbox = Table(
    "outbox",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("key", TextColumn, nullable=False, unique=True),
    Column("conversation", TextColumn, nullable=False),
    Column("body", Json, nullable=False),
    Column("due_at", Instant, nullable=False),
    Column("state", TextColumn, nullable=False),
    Column("attempts", Integer, nullable=False),
    Column("worker", TextColumn),
    Column("leased_until", Instant),
    Column("why", TextColumn),
    Column("posted", BigInteger),
    Index("outbox_by_due", "state", "due_at", "id"),
    Index("outbox_by_conversation", "conversation", "state", "id"),
    sqlite_autoincrement=True,
)

reminder = Table(
    "reminder",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("conversation", TextColumn, nullable=False),
    Column("name", TextColumn, nullable=False),
    Column("local", TextColumn, nullable=False),
    Column("zone", TextColumn, nullable=False),
    Column("second", Boolean, nullable=False),
    Column("elapsed", Boolean, nullable=False),
    Column("foreman", TextColumn),
    Column("body", Json, nullable=False),
    Column("due_at", Instant, nullable=False),
    Column("next_at", Instant),
    Column("state", TextColumn, nullable=False),
    Column("asked", Integer, nullable=False),
    Column("rung", Integer, nullable=False),
    Column("message", TextColumn),
    Column("settled_at", Instant),
    UniqueConstraint("conversation", "name", "local", "second"),
    Index("reminder_by_next", "next_at", "id"),
    Index("reminder_by_state", "conversation", "state", "name"),
)

ring = Table(
    "ring",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("reminder", Integer, ForeignKey("reminder.id"), nullable=False),
    Column("number", Integer, nullable=False),
    Column("audience", TextColumn, nullable=False),
    Column("due_at", Instant, nullable=False),
    Column("rung_at", Instant, nullable=False),
    Column("message", TextColumn, nullable=False),
    UniqueConstraint("reminder", "number"),
    Index("ring_by_message", "message"),
)

relief = Table(
    "relief",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("reminder", Integer, ForeignKey("reminder.id"), nullable=False),
    Column("answered_at", Instant, nullable=False),
)

heartbeat = Table(
    "heartbeat",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("seen_at", Instant, nullable=False),
)

inbox = Table(
    "inbox",
    metadata,
    Column("update_id", BigInteger, primary_key=True, autoincrement=False),
    Column("conversation", TextColumn, nullable=False),
    Column("message", BigInteger),
    Column("body", Json),
    Column("received_at", Instant, nullable=False),
    Column("done_at", Instant),
    Column("slow", Boolean, nullable=False),
    Index("inbox_by_done", "done_at", "update_id"),
    Index("inbox_by_message", "conversation", "message", "update_id"),
)

Index(
    "inbox_by_waiting",
    inbox.c.conversation,
    inbox.c.update_id,
    sqlite_where=inbox.c.done_at.is_(None),
    postgresql_where=inbox.c.done_at.is_(None),
)

hold = Table(
    "hold",
    metadata,
    Column("conversation", TextColumn, primary_key=True),
    Column("worker", TextColumn, nullable=False),
    Column("until", Instant, nullable=False),
)

gone = Table(
    "gone",
    metadata,
    Column("conversation", TextColumn, primary_key=True),
    Column("since", Instant, nullable=False),
)

invitation = Table(
    "invitation",
    metadata,
    Column("code", TextColumn, primary_key=True),
    Column("farm", TextColumn, nullable=False),
    Column("role", TextColumn, nullable=False),
    Column("expires_at", Instant, nullable=False),
    Column("used_by", TextColumn),
    Column("used_at", Instant),
    Column("joins", TextColumn),
    Column("invited_by", TextColumn),
)

account = Table(
    "account",
    metadata,
    Column("channel", TextColumn, primary_key=True),
    Column("name", TextColumn, nullable=False),
)
"""What this program is called in a channel, by the number of its account there."""

person = Table(
    "person",
    metadata,
    Column("conversation", TextColumn, primary_key=True),
    Column("farm", TextColumn, nullable=False),
    Column("role", TextColumn, nullable=False),
    Column("joined_at", Instant, nullable=False),
    Column("talk", TextColumn),
    Column("name", TextColumn),
    Index("person_by_farm", "farm", "role"),
    Index("person_by_talk", "talk"),
)

speaker = Table(
    "speaker",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("talk", TextColumn, nullable=False),
    Column("chat", TextColumn, nullable=False),
    Column("name", TextColumn, nullable=False),
    Column("since", Instant, nullable=False),
    Index("speaker_by_talk", "talk", "id"),
)

news = Table(
    "news",
    metadata,
    Column("chat", TextColumn, primary_key=True),
    Column("runs", Boolean, nullable=False),
    Column("shifts", Boolean, nullable=False),
    Column("quiet_from", TextColumn),
    Column("quiet_until", TextColumn),
    Column("zone", TextColumn),
)

attempt = Table(
    "attempt",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("conversation", TextColumn, nullable=False),
    Column("tried_at", Instant, nullable=False),
    Index("attempt_by_conversation", "conversation", "tried_at"),
)

snapshot = Table(
    "snapshot",
    metadata,
    Column("conversation", TextColumn, ForeignKey("conversation.id"), primary_key=True),
    Column("seq", Integer, nullable=False),
    Column("body", TextColumn, nullable=False),
    Column("sha256", TextColumn, nullable=False),
)

document = Table(
    "document",
    metadata,
    Column("sha256", TextColumn, primary_key=True),
    Column("media", TextColumn, nullable=False),
    Column("content", TextColumn, nullable=False),
)


@cache
def _written_for(dialect: str) -> tuple[str, ...]:
    """What makes the tables and their indexes on a database of this kind; written out once, since it takes longer than
    making them."""
    kind = make_url(f"{dialect}://").get_dialect()()
    made: list[ExecutableDDLElement] = []
    for table in metadata.sorted_tables:
        made += [CreateTable(table), *map(CreateIndex, table.indexes)]
    return tuple(str(one.compile(dialect=kind)) for one in made)


def create_all(connection: Connection) -> None:
    """Every table of a new record."""
    for statement in _written_for(connection.dialect.name):
        connection.exec_driver_sql(statement)
    for table in (fact, ring, document):
        written_once(connection, table.name)
    others = (column.name for column in turn.columns if column.name != "conversation")
    written_once(connection, turn.name, only_forgets_whose(connection, *others))
