"""Updates on their way in: kept before the channel confirms them, so that a crash loses none and doubles none.

The updates of a conversation are in the hands of one worker at a time, in their order, and of another one when its hold
has run out. An update is done in the same transaction as what it sends by itself; its words are forgotten then, only
its number stays. Turns are safe by the id of their utterance, so that an update may be begun twice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, Select, bindparam, delete, exists, select, update

from engine.database import Database, dialect_insert, insert_new
from engine.history.store.tables import gone, hold, inbox
from engine.queues import outbox


@dataclass(frozen=True)
class Incoming:
    """One raw update; ``message`` is the number that its message has in the chat, ``body`` is as it came, ``slow`` says
    that it takes long: what is quick does not wait behind it."""

    update_id: int
    conversation: str
    message: int | None
    body: dict[str, Any]
    received_at: datetime
    slow: bool = False


@dataclass(frozen=True)
class Inbox:
    """All updates that came, and those still to be handled."""

    database: Database

    def put(self, updates: Sequence[Incoming]) -> tuple[Incoming, ...]:
        """Keep those that are not known yet, and return them in their order."""
        numbers = [one.update_id for one in updates]
        with self.database.beside() as connection:
            known = set(connection.execute(select(inbox.c.update_id).where(inbox.c.update_id.in_(numbers))).scalars())
            fresh = {one.update_id: one for one in updates if one.update_id not in known}
            if fresh:
                insert_new(connection, inbox, [vars(one) for one in fresh.values()])
        return tuple(fresh[number] for number in sorted(fresh))

    def waiting(self) -> tuple[Incoming, ...]:
        """What is not done, in order."""
        left = select(inbox).where(inbox.c.done_at.is_(None)).order_by(inbox.c.update_id)
        with self.database.read() as connection:
            return tuple(_incoming(row) for row in connection.execute(left))

    def take(self, worker: str, now: datetime, lease: timedelta, slow: bool, most: int) -> tuple[Incoming, ...]:
        """The first update that waits in each conversation that nobody has in hand, from now on in those of ``worker``:
        the oldest first, ``slow`` ones or quick ones."""
        if most <= 0:
            return ()
        known = {"now": now, "slow": slow, "most": most}
        with self.database.beside() as connection:
            found = {row.conversation: _incoming(row) for row in connection.execute(_HEADS, known)}
            if not found:
                return ()
            rows = [{"conversation": name, "worker": worker, "until": now + lease} for name in sorted(found)]
            held = set(connection.execute(_taken(connection, rows, now)).scalars())
            done = self._done_since(connection, [found[name].update_id for name in held])
            if done:
                connection.execute(delete(hold).where(hold.c.worker == worker, hold.c.conversation.in_(done)))
        return tuple(one for name, one in found.items() if name in held - done)

    def _done_since(self, connection: Connection, updates: Sequence[int]) -> set[str]:
        """The conversations whose update another worker did between our look and our taking, on a server."""
        if not self.database.is_server or not updates:
            return set()
        over = select(inbox.c.conversation).where(inbox.c.update_id.in_(updates), inbox.c.done_at.is_not(None))
        return set(connection.execute(over).scalars())

    def let_go(self, worker: str, conversations: Sequence[str]) -> None:
        """These are in nobody's hand any more."""
        mine = hold.c.worker == worker, hold.c.conversation.in_(conversations)
        with self.database.beside() as connection:
            connection.execute(delete(hold).where(*mine))

    def done(self, update_id: int, now: datetime, outgoing: Sequence[outbox.Outgoing] = ()) -> None:
        """It is handled; what it sends goes to the outbox with it, once."""
        open_one = update(inbox).where(inbox.c.update_id == update_id, inbox.c.done_at.is_(None))
        with self.database.beside() as connection:
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
        with self.database.beside() as connection:
            connection.execute(delete(inbox).where(inbox.c.done_at < before))


@dataclass(frozen=True)
class Gone:
    """Conversations that cannot be reached: the person blocked the channel or left it."""

    database: Database

    def all(self) -> frozenset[str]:
        with self.database.read() as connection:
            return frozenset(connection.execute(select(gone.c.conversation)).scalars())

    def add(self, conversation: str, now: datetime) -> None:
        with self.database.beside() as connection:
            insert_new(connection, gone, [{"conversation": conversation, "since": now}])

    def remove(self, conversation: str) -> None:
        with self.database.beside() as connection:
            connection.execute(delete(gone).where(gone.c.conversation == conversation))


def _heads() -> Select[Any]:
    """The first update that waits in each conversation that nobody has in hand."""
    before, now = inbox.alias("before"), bindparam("now", type_=hold.c.until.type)
    first = ~exists().where(
        before.c.conversation == inbox.c.conversation,
        before.c.update_id < inbox.c.update_id,
        before.c.done_at.is_(None),
    )
    free = ~exists().where(hold.c.conversation == inbox.c.conversation, hold.c.until > now)
    wanted = inbox.c.done_at.is_(None), inbox.c.slow == bindparam("slow", type_=inbox.c.slow.type)
    return select(inbox).where(*wanted, first, free).order_by(inbox.c.update_id).limit(bindparam("most"))


_HEADS = _heads()


def _taken(connection: Connection, rows: Sequence[dict[str, Any]], now: datetime) -> Any:
    """Take these conversations in hand; gives those that no living worker took meanwhile."""
    new = dialect_insert(connection, hold).values(rows)
    over = {"worker": new.excluded.worker, "until": new.excluded.until}
    kept = new.on_conflict_do_update(index_elements=["conversation"], set_=over, where=hold.c.until <= now)
    return kept.returning(hold.c.conversation)


def _incoming(row: Row[Any]) -> Incoming:
    return Incoming(row.update_id, row.conversation, row.message, row.body, row.received_at, row.slow)
