"""The tables of the record, the same on SQLite and PostgreSQL.

A turn and its facts are written once and never changed; on SQLite triggers refuse any other statement.
Instants are UTC, as text that sorts in order of time: ``2027-03-28T06:30:00.000000Z``.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Connection,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.types import TypeDecorator

_INSTANT = "%Y-%m-%dT%H:%M:%S.%fZ"


class Instant(TypeDecorator[datetime]):
    """A moment, stored as UTC text; a time without a zone is refused."""

    impl = String(27)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:  # noqa: ARG002
        if value is None:
            return None
        if value.utcoffset() is None:
            raise ValueError("a moment needs its time zone")
        return value.astimezone(UTC).strftime(_INSTANT)

    def process_result_value(self, value: str | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        return None if value is None else datetime.strptime(value, _INSTANT).replace(tzinfo=UTC)


class Json(TypeDecorator[Any]):
    """Plain data as JSON text; numbers come back exactly as they went in, NaN and infinity are refused."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Any, dialect: Dialect) -> str | None:  # noqa: ARG002
        return None if value is None else json.dumps(value, ensure_ascii=False, allow_nan=False)

    def process_result_value(self, value: str | None, dialect: Dialect) -> Any:  # noqa: ARG002
        return None if value is None else json.loads(value)


metadata = MetaData()

version = Table("rowhand_format", metadata, Column("version", Integer, primary_key=True, autoincrement=False))

conversation = Table(
    "conversation",
    metadata,
    Column("id", Text, primary_key=True),
    Column("farm", Text),
    Column("created", Instant, nullable=False),
    Column("planter", Text),
)

script = Table(
    "script",
    metadata,
    Column("hash", Text, primary_key=True),
    Column("name", Text, nullable=False),
    Column("source", Text, nullable=False),
)

turn = Table(
    "turn",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("conversation", Text, ForeignKey("conversation.id"), nullable=False),
    Column("seq", Integer, nullable=False),
    Column("utterance_id", Text, nullable=False, unique=True),
    Column("said_at", Instant, nullable=False),
    Column("language", Text, nullable=False),
    Column("heard", Text, nullable=False),
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
    Column("kind", Text, nullable=False),
    Column("slot", Text),
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
    Column("key", Text, nullable=False, unique=True),
    Column("conversation", Text, nullable=False),
    Column("body", Json, nullable=False),
    Column("due_at", Instant, nullable=False),
    Column("state", Text, nullable=False),
    Column("attempts", Integer, nullable=False),
    Column("worker", Text),
    Column("leased_until", Instant),
    Column("why", Text),
    Column("posted", BigInteger),
    Index("outbox_by_due", "state", "due_at", "id"),
    Index("outbox_by_conversation", "conversation", "state", "id"),
    sqlite_autoincrement=True,
)

reminder = Table(
    "reminder",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("conversation", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("local", Text, nullable=False),
    Column("zone", Text, nullable=False),
    Column("second", Boolean, nullable=False),
    Column("elapsed", Boolean, nullable=False),
    Column("foreman", Text),
    Column("body", Json, nullable=False),
    Column("due_at", Instant, nullable=False),
    Column("next_at", Instant),
    Column("state", Text, nullable=False),
    Column("asked", Integer, nullable=False),
    Column("rung", Integer, nullable=False),
    Column("message", Text),
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
    Column("audience", Text, nullable=False),
    Column("due_at", Instant, nullable=False),
    Column("rung_at", Instant, nullable=False),
    Column("message", Text, nullable=False),
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
    Column("conversation", Text, nullable=False),
    Column("message", BigInteger),
    Column("body", Json),
    Column("received_at", Instant, nullable=False),
    Column("done_at", Instant),
    Index("inbox_by_done", "done_at", "update_id"),
    Index("inbox_by_message", "conversation", "message", "update_id"),
)

gone = Table(
    "gone",
    metadata,
    Column("conversation", Text, primary_key=True),
    Column("since", Instant, nullable=False),
)

invitation = Table(
    "invitation",
    metadata,
    Column("code", Text, primary_key=True),
    Column("farm", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("expires_at", Instant, nullable=False),
    Column("used_by", Text),
    Column("used_at", Instant),
    Column("joins", Text),
)

person = Table(
    "person",
    metadata,
    Column("conversation", Text, primary_key=True),
    Column("farm", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("joined_at", Instant, nullable=False),
    Column("talk", Text),
    Column("name", Text),
    Index("person_by_farm", "farm", "role"),
    Index("person_by_talk", "talk"),
)

speaker = Table(
    "speaker",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("talk", Text, nullable=False),
    Column("chat", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("since", Instant, nullable=False),
    Index("speaker_by_talk", "talk", "id"),
)

news = Table(
    "news",
    metadata,
    Column("chat", Text, primary_key=True),
    Column("runs", Boolean, nullable=False),
    Column("shifts", Boolean, nullable=False),
    Column("quiet_from", Text),
    Column("quiet_until", Text),
    Column("zone", Text),
)

attempt = Table(
    "attempt",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("conversation", Text, nullable=False),
    Column("tried_at", Instant, nullable=False),
    Index("attempt_by_conversation", "conversation", "tried_at"),
)


NAMELESS = ":/"
"""Stands in the name of every conversation that is not called after the chat of one person."""


def written_once(connection: Connection, table: str, unless: str = "0") -> None:
    """Make SQLite refuse to change or delete rows of a table; other databases have their rights for that.

    A change for which the condition ``unless`` holds passes.
    """
    if connection.dialect.name == "sqlite":
        for verb, but in (("UPDATE", unless), ("DELETE", "0")):
            refuse = f"SELECT RAISE(ABORT, '{table} rows are written once')"
            head = f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} WHEN NOT ({but})"
            connection.exec_driver_sql(f"{head} BEGIN {refuse}; END")


def only_forgets_whose(*kept: str) -> str:
    """The condition that a change of a turn takes a person's chat out of it and leaves the ``kept`` columns alone."""
    same = [f"NEW.{name} IS OLD.{name}" for name in kept]
    moves = f"instr(NEW.conversation, '{NAMELESS}') > 0 AND instr(OLD.conversation, '{NAMELESS}') = 0"
    return " AND ".join([moves, *same])


def create_all(connection: Connection) -> None:
    """Every table of a new record."""
    metadata.create_all(connection)
    for table in (fact, ring):
        written_once(connection, table.name)
    written_once(connection, turn.name, only_forgets_whose(*(c.name for c in turn.columns if c.name != "conversation")))
