"""Updates on their way in: kept before the channel confirms them, so that a crash loses none and doubles none.

An update is done in the same transaction as what it sends by itself; its words are forgotten then, only its number
stays. Turns are safe by the id of their utterance, so that an update may be begun twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, insert, select, update

from engine.database import Database, insert_new
from engine.history.store.tables import gone, inbox
from engine.queues import outbox


@dataclass(frozen=True)
class Incoming:
    """One raw update; ``message`` is the number that its message has in the chat, ``body`` is as it came."""

    update_id: int
    conversation: str
    message: int | None
    body: dict[str, Any]
    received_at: datetime


@dataclass(frozen=True)
class Inbox:
    """All updates that came, and those still to be handled."""

    database: Database

    def put(self, updates: Sequence[Incoming]) -> tuple[Incoming, ...]:
        """Keep those that are not known yet, and return them in their order."""
        numbers = [one.update_id for one in updates]
        with self.database.begin() as connection:
            known = set(connection.execute(select(inbox.c.update_id).where(inbox.c.update_id.in_(numbers))).scalars())
            fresh = {one.update_id: one for one in updates if one.update_id not in known}
            if fresh:
                connection.execute(insert(inbox), [vars(one) for one in fresh.values()])
        return tuple(fresh[number] for number in sorted(fresh))

    def waiting(self) -> tuple[Incoming, ...]:
        """What is not done, in order."""
        left = select(inbox).where(inbox.c.done_at.is_(None)).order_by(inbox.c.update_id)
        with self.database.read() as connection:
            return tuple(_incoming(row) for row in connection.execute(left))

    def done(self, update_id: int, now: datetime, outgoing: Sequence[outbox.Outgoing] = ()) -> None:
        """It is handled; what it sends goes to the outbox with it, once."""
        open_one = update(inbox).where(inbox.c.update_id == update_id, inbox.c.done_at.is_(None))
        with self.database.begin() as connection:
            if connection.execute(open_one.values(done_at=now, body=None)).rowcount:
                outbox.put(connection, outgoing)

    def earlier(self, one: Incoming) -> tuple[int, ...]:
        """The updates before this one that carried the same message, where it is edited, the newest first."""
        same = select(inbox.c.update_id).where(
            inbox.c.conversation == one.conversation,
            inbox.c.message == one.message,
            inbox.c.update_id < one.update_id,
        )
        with self.database.read() as connection:
            return tuple(connection.execute(same.order_by(inbox.c.update_id.desc())).scalars())

    def prune(self, before: datetime) -> None:
        """Forget the numbers of what was done before."""
        with self.database.begin() as connection:
            connection.execute(delete(inbox).where(inbox.c.done_at < before))


@dataclass(frozen=True)
class Gone:
    """Conversations that cannot be reached: the person blocked the channel or left it."""

    database: Database

    def all(self) -> frozenset[str]:
        with self.database.read() as connection:
            return frozenset(connection.execute(select(gone.c.conversation)).scalars())

    def add(self, conversation: str, now: datetime) -> None:
        with self.database.begin() as connection:
            insert_new(connection, gone, [{"conversation": conversation, "since": now}])

    def remove(self, conversation: str) -> None:
        with self.database.begin() as connection:
            connection.execute(delete(gone).where(gone.c.conversation == conversation))


def _incoming(row: Row[Any]) -> Incoming:
    return Incoming(row.update_id, row.conversation, row.message, row.body, row.received_at)
