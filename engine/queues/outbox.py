"""Messages on their way out: written with the turn that caused them, sent in order, never lost.

A message is leased to a worker before it is sent. A worker that dies between sending and marking leaves a lease that
runs out, and the message goes once more: never lost, sometimes repeated. In one conversation a message waits until
those written before it are sent, given up, or of unknown fate.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any, assert_never

from sqlalchemy import (
    ColumnElement,
    Connection,
    Row,
    Select,
    Update,
    and_,
    bindparam,
    delete,
    exists,
    func,
    insert,
    or_,
    select,
    update,
)

from engine.database import Database, insert_new
from engine.history.store.tables import outbox
from engine.queues.outbox_message import OutboxMessage, read_message, write_message

PERHAPS = "perhaps arrived"
"""Why a message waits whose last try may have come through."""
ANSWERED = "answered"
"""Why a call was not sent: somebody answered before."""
_LAST = "\U0010ffff"
UNREADABLE = "unreadable"
"""Why a message was given up that a later release wrote, or a broken disk: it holds up nothing behind it."""


class DeliveryState(StrEnum):
    """Where a message is. ``unknown``: the line broke while it was sent, and it may have arrived."""

    PENDING = "pending"
    SENT = "sent"
    FAILED = "failed"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class Outgoing:
    """One message to send, not before ``due_at``; ``key`` is unique for ever."""

    key: str
    conversation: str
    message: OutboxMessage
    due_at: datetime


@dataclass(frozen=True)
class Waiting:
    """A message in the outbox; ``attempts`` failed before, the last one for the reason ``why``."""

    outgoing: Outgoing
    state: DeliveryState
    attempts: int = 0
    why: str | None = None
    leased_until: datetime | None = field(default=None, compare=False)


@dataclass(frozen=True)
class Arrival:
    """A message that was sent: ``posted`` is what its channel calls it, ``then`` what follows it."""

    key: str
    posted: int | None = None
    then: tuple[Outgoing, ...] = ()


@dataclass(frozen=True)
class Setback:
    """A message that did not arrive: it is tried again at ``retry_at``, or given up where that is None."""

    key: str
    retry_at: datetime | None
    why: str = ""


def put(connection: Connection, messages: Sequence[Outgoing]) -> None:
    """Add messages inside somebody's transaction, in their order; IntegrityError where a key exists."""
    if messages:
        connection.execute(_PUT, _rows(messages))


def give_up(connection: Connection, conversation: str, why: str) -> None:
    """Send nothing of what still waits for a conversation, inside somebody's transaction."""
    mine = update(outbox).where(outbox.c.conversation == conversation, outbox.c.state == DeliveryState.PENDING)
    connection.execute(mine.values(state=DeliveryState.FAILED, worker=None, leased_until=None, why=why))


def waits() -> tuple[ColumnElement[bool], ...]:
    """Conditions for a message that no worker has taken yet."""
    return outbox.c.state == DeliveryState.PENDING, outbox.c.worker.is_(None)


@dataclass(frozen=True)
class Outbox:
    """All messages that wait, were sent, or failed."""

    database: Database

    def pending(self, conversation: str) -> tuple[Waiting, ...]:
        """What this conversation still has to get, in order, as far as it can be read."""
        with self.database.read() as connection:
            return tuple(filter(None, map(_waiting, connection.execute(_pending(conversation)))))

    def find(self, key: str) -> Waiting | None:
        with self.database.read() as connection:
            row = connection.execute(select(outbox).where(outbox.c.key == key)).first()
        return _waiting(row) if row else None

    def newest(self, conversation: str, until: datetime, passing: str) -> Outgoing | None:
        """The message written last for a conversation of those due by then whose key does not begin with ``passing``.

        None where there is none, or where it cannot be read.
        """
        passed = outbox.c.key.startswith(passing, autoescape=True)
        mine = outbox.c.conversation == conversation, outbox.c.due_at <= until, ~passed
        with self.database.read() as connection:
            row = connection.execute(select(outbox).where(*mine).order_by(outbox.c.id.desc()).limit(1)).first()
        found = _waiting(row) if row else None
        return found.outgoing if found else None

    def is_said(self, beginning: str, since: datetime | None = None) -> bool:
        """Whether there was a message whose key begins so, due after ``since`` where that is given."""
        named = outbox.c.key.startswith(beginning, autoescape=True)
        later = (outbox.c.due_at > since,) if since else ()
        with self.database.read() as connection:
            return connection.execute(select(outbox.c.id).where(named, *later).limit(1)).first() is not None

    def claim(
        self, worker: str, now: datetime, lease: timedelta, limit: int = 50, prefix: str = ""
    ) -> tuple[Outgoing, ...]:
        """Lease to ``worker`` the first due message of each conversation that no living worker holds.

        ``prefix`` takes only conversations whose name begins so. What cannot be read is given up.
        """
        return tuple(one.outgoing for one in self.take(worker, now, lease, limit, prefix))

    def take(
        self, worker: str, now: datetime, lease: timedelta, limit: int = 50, prefix: str = ""
    ) -> tuple[Waiting, ...]:
        """The same, with what is known of earlier tries."""
        known = {"now": now, "first": prefix, "last": f"{prefix}{_LAST}", "most": limit}
        with self.database.beside() as connection:
            found = {row.id: _waiting(row) for row in connection.execute(_CLAIMABLE, known).all()}
            if taken := [number for number, one in found.items() if one]:
                held = {"worker": worker, "leased_until": now + lease}
                connection.execute(update(outbox).where(outbox.c.id.in_(taken)).values(held))
            if broken := [number for number, one in found.items() if not one]:
                lost = {"state": DeliveryState.FAILED, "why": UNREADABLE}
                connection.execute(update(outbox).where(outbox.c.id.in_(broken)).values(lost))
        return tuple(filter(None, found.values()))

    def release(self, worker: str) -> None:
        """Give back what ``worker`` held: it is known to be dead."""
        held = update(outbox).where(outbox.c.worker == worker, outbox.c.state == DeliveryState.PENDING)
        with self.database.beside() as connection:
            connection.execute(held.values(worker=None, leased_until=None))

    def next_due(self, prefix: str = "") -> datetime | None:
        """When the next message of these conversations is due that nobody holds; None where none waits."""
        mine = outbox.c.conversation.startswith(prefix, autoescape=True)
        first = select(func.min(outbox.c.due_at)).where(mine, *waits())
        with self.database.read() as connection:
            return connection.execute(first).scalar()

    def mark_sent(self, *keys: str) -> None:
        """They arrived; marking twice is harmless."""
        with self.database.beside() as connection:
            change = _still_pending(*keys).values(state=DeliveryState.SENT, worker=None, leased_until=None)
            connection.execute(change)

    def settle(self, outcomes: Sequence[Arrival | Setback]) -> None:
        """How sending went, and what follows from now on: all in one transaction, arriving twice is harmless."""
        with self.database.beside() as connection:
            for one in outcomes:
                change = _still_pending(one.key).values(worker=None, leased_until=None, **_outcome(one))
                connection.execute(change)
                if isinstance(one, Arrival):
                    insert_new(connection, outbox, _rows(one.then))

    def posted(self, conversation: str, keys: Iterable[str]) -> tuple[int, ...]:
        """What the channel of a conversation calls these messages, as far as they were sent there."""
        there = outbox.c.conversation == conversation, outbox.c.posted.is_not(None)
        found = select(outbox.c.posted).where(outbox.c.key.in_(list(keys)), *there).order_by(outbox.c.id)
        with self.database.read() as connection:
            return tuple(connection.execute(found).scalars())

    def pass_on(self, one: Outgoing, conversations: Sequence[str]) -> None:
        """Send it to these instead, to each once; it counts as sent itself."""
        copies = [replace(one, key=f"{one.key}:{to}", conversation=to) for to in conversations]
        with self.database.beside() as connection:
            known = select(outbox.c.key).where(outbox.c.key.in_([copy.key for copy in copies]))
            there = set(connection.execute(known).scalars())
            put(connection, [copy for copy in copies if copy.key not in there])

    def drop(self, key: str) -> None:
        """It arrived, and nothing of it is to be kept."""
        with self.database.beside() as connection:
            connection.execute(delete(outbox).where(outbox.c.key == key))


def _rows(messages: Sequence[Outgoing]) -> list[dict[str, Any]]:
    return [
        {
            "key": one.key,
            "conversation": one.conversation,
            "body": write_message(one.message),
            "due_at": one.due_at,
            "state": DeliveryState.PENDING,
            "attempts": 0,
        }
        for one in messages
    ]


def _outcome(one: Arrival | Setback) -> dict[str, Any]:
    match one:
        case Arrival(posted=posted):
            return {"state": DeliveryState.SENT, "posted": posted}
        case Setback(retry_at=None, why=why):
            return {"state": DeliveryState.FAILED, "attempts": outbox.c.attempts + 1, "why": why}
        case Setback(retry_at=retry_at, why=why):
            return {"due_at": retry_at, "attempts": outbox.c.attempts + 1, "why": why}
        case _:
            assert_never(one)


def _still_pending(*keys: str) -> Update:
    return update(outbox).where(outbox.c.key.in_(keys), outbox.c.state == DeliveryState.PENDING)


def _pending(conversation: str) -> Select[Any]:
    mine = and_(outbox.c.conversation == conversation, outbox.c.state == DeliveryState.PENDING)
    return select(outbox).where(mine).order_by(outbox.c.id)


def _claimable() -> Select[Any]:
    """The first due message of each conversation that nobody holds, at ``most`` so many."""
    before, now = outbox.alias("before"), bindparam("now", type_=outbox.c.due_at.type)
    earlier = exists().where(
        before.c.conversation == outbox.c.conversation,
        before.c.state == DeliveryState.PENDING,
        before.c.id < outbox.c.id,
    )
    free = or_(outbox.c.leased_until.is_(None), outbox.c.leased_until <= now)
    due = and_(outbox.c.state == DeliveryState.PENDING, outbox.c.due_at <= now)
    mine = outbox.c.conversation.between(bindparam("first"), bindparam("last"))
    heads = select(outbox).where(due, free, mine, ~earlier).order_by(outbox.c.due_at, outbox.c.id)
    return heads.limit(bindparam("most")).with_for_update(skip_locked=True)


_CLAIMABLE, _PUT = _claimable(), insert(outbox)


def _waiting(row: Row[Any]) -> Waiting | None:
    """None for a row that cannot be read."""
    try:
        outgoing = Outgoing(row.key, row.conversation, read_message(row.body), row.due_at)
    except ValueError:
        return None
    return Waiting(outgoing, DeliveryState(row.state), row.attempts, row.why, row.leased_until)
