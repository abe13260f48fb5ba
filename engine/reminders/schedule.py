"""Reminders as rows of the database: set with the turn that wants them, rung once for each time, until answered.

Ringing changes the reminder, notes the ring (unique by reminder and number) and puts the message into the outbox in
one transaction, so a kill at any moment rings once in the history and at least once on the wire. All that is due in
one conversation goes into one message. While that message has not left yet, what falls due meanwhile is added to it:
after the program or the line was away there is one message that says what was due when. A message for the machine
itself waits there for a program that shows it; the foreman is told after as long as the tries would have taken.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, Row, delete, insert, select

from engine.database import Database
from engine.database_locks import in_hand
from engine.history.store import tables
from engine.queues import outbox
from engine.queues.outbox_message import write_message
from engine.reminders import query
from engine.reminders.clock import TOLERANCE
from engine.reminders.clock_mending import beat, mend
from engine.reminders.escalation import at_the_machine, foremen
from engine.reminders.notification import notify
from engine.reminders.reminder import (
    Audience,
    ClockChange,
    ClockKind,
    ClockNotice,
    Compose,
    Relief,
    Reminder,
    ReminderItem,
    Ring,
    Stage,
    is_once,
)

_RING = re.compile(r"ring/\d+/\d+")


@dataclass(frozen=True)
class ReminderPolicy:
    """Ask ``again`` after this long; after ``tries`` tell the foreman; later than ``grace`` counts as missed."""

    again: timedelta = timedelta(minutes=5)
    tries: int = 3
    grace: timedelta = timedelta(minutes=2)
    at_once: int = 200


@dataclass(frozen=True)
class Schedule:
    """All reminders of one database."""

    database: Database
    policy: ReminderPolicy = field(default_factory=ReminderPolicy)

    def waiting(self, conversation: str) -> tuple[Reminder, ...]:
        """The open reminders of a conversation, the next to ring first."""
        with self.database.read() as connection:
            return tuple(map(query.reminder_of, connection.execute(query.still_open(conversation))))

    def next_due(self) -> datetime | None:
        """When something will ring next."""
        with self.database.read() as connection:
            return connection.execute(query.next_due()).scalar()

    def rang_for(self, message: str) -> Audience | None:
        """Whom a message of the outbox rings for; None for one that is no ring."""
        rung = select(tables.ring.c.audience).where(tables.ring.c.message == message).limit(1)
        with self.database.read() as connection:
            found = connection.execute(rung).scalar()
        return Audience(found) if found else None

    def asks(self, message: str) -> bool:
        """Whether nobody answered or put off yet what a message asks; True for one that is no ring, or asks nothing.

        What was made of a ring for others, or as a voice note, asks what the ring does.
        """
        ring = _RING.match(message)
        with self.database.read() as connection:
            rang = connection.execute(query.rung_by(ring[0] if ring else message)).scalars().all()
        return not rang or any(Stage(state) in (Stage.ASKED, Stage.TOLD, Stage.SAID) for state in rang)

    def asking(self, conversation: str) -> tuple[str, ...]:
        """The last calls of a conversation that nobody answered or put off yet, by their keys in the outbox."""
        with self.database.read() as connection:
            return tuple(connection.execute(query.asking(conversation)).scalars())

    def tick(self, now: datetime, compose: Compose) -> tuple[Ring, ...]:
        """Ring what is due, for as many conversations as ``at_once`` allows; call again while it returns any.

        A foreman who was told that nobody answers hears that somebody did.
        """
        self._relieve(now, compose)
        if (first := self.next_due()) is None or first > now:
            return ()
        with self.database.beside() as connection:
            due = connection.execute(query.conversations_due(now, self.policy.at_once)).scalars().all()
            mine = [one for one in sorted(due) if in_hand(connection, one)]
            rows = connection.execute(query.due(now, mine)).all() if mine else []
            bell = _Bell(connection, self.policy, now, compose)
            return tuple(
                ring for _, group in groupby(rows, lambda row: row.conversation) for ring in bell.ring(list(group))
            )

    def _relieve(self, now: datetime, compose: Compose) -> None:
        with self.database.read() as connection:
            if connection.execute(select(tables.relief.c.id).limit(1)).first() is None:
                return
        with self.database.beside() as connection:
            for row in connection.execute(query.reliefs()).all():
                _relieve(connection, row, now, compose)

    def newest(self) -> int:
        """The number of the reminder that was set last; 0 where none was."""
        with self.database.read() as connection:
            return connection.execute(query.newest()).scalar() or 0

    def notice(self, change: ClockChange, compose: Compose, since: int | None = None) -> tuple[ClockNotice, ...]:
        """Tell every conversation with open reminders about its clock, and keep what runs by elapsed time right.

        What is due only because the clock jumped ahead is asked for by this message, and rings later where nobody
        answers. Where another process on this record saw the same and told it, nothing is done. Reminders behind the
        one ``since`` were set under this clock.
        """
        with self.database.begin() as connection:
            if connection.execute(query.told_of(change.kind, change.seen_at, TOLERANCE)).first():
                return ()
            mend(connection, change, since)
            rows = connection.execute(query.still_open()).all()
            talks = groupby(rows, lambda row: row.conversation)
            notices = tuple(ClockNotice(talk, change, tuple(map(query.reminder_of, group))) for talk, group in talks)
            outbox.put(connection, [_notice(notice, compose) for notice in notices])
            if change.kind is ClockKind.FORWARD:
                connection.execute(query.skipped(change).values(next_at=change.seen_at + self.policy.again))
        return notices

    def mend(self, change: ClockChange, since: int | None = None) -> None:
        """Keep what runs by elapsed time right, without a word."""
        with self.database.begin() as connection:
            mend(connection, change, since)

    def beat(self, now: datetime) -> None:
        """Note that the program was awake now."""
        with self.database.beside() as connection:
            beat(connection, now)

    def last_beat(self) -> datetime | None:
        """When the program was last known to be awake."""
        with self.database.read() as connection:
            return connection.execute(select(tables.heartbeat.c.seen_at)).scalar()


@dataclass(frozen=True)
class _Bell:
    """Rings reminders inside one transaction."""

    connection: Connection
    policy: ReminderPolicy
    now: datetime
    compose: Compose

    def ring(self, due: Sequence[Row[Any]]) -> Iterator[Ring]:
        """Ring all that is due in one conversation, first what is said once."""
        for row in due:
            if is_once(row.body):
                yield from notify(self.connection, row, self.now, self.policy.grace, self.compose)
        if asking := [row for row in due if not is_once(row.body)]:
            yield from self._ring_until_answered(asking)

    def _ring_until_answered(self, due: Sequence[Row[Any]]) -> Iterator[Ring]:
        conversation = due[0].conversation
        held = self.connection.execute(query.not_left_yet(conversation)).all()
        held_ids = {row.id for row in held}
        asked = any(row.state == Stage.ASKED for row in due)
        leaving = (
            {row.id for row in self.connection.execute(query.on_its_way(conversation))} - held_ids if asked else set()
        )
        lost = self._unshown(conversation, {row.id for row in due} & (held_ids | leaving))
        self._put_off([row.id for row in due if row.id in held_ids], self.policy.again)
        self._put_off([row.id for row in due if row.id in leaving], self.policy.grace / 2)
        for chats, group in groupby(lost, self._foremen):
            yield from self._tell(chats, list(group), unshown=True)
        fresh = [row for row in due if row.id not in held_ids | leaving]
        told = {row.id: self._foremen(row) for row in fresh if row.asked >= self.policy.tries}
        vain = sorted((row for row in fresh if told.get(row.id)), key=lambda row: (told[row.id], row.due_at, row.id))
        for chats, group in groupby(vain, lambda row: told[row.id]):
            yield from self._tell(chats, list(group))
        if asking := [row for row in fresh if not told.get(row.id)]:
            yield self._ask(conversation, asking, held)
        elif held_ids & {row.id for row in due}:
            self._rewrite(self._ring(conversation, Audience.OPERATOR, (), held), held)

    def _unshown(self, conversation: str, due: Set[int]) -> list[Row[Any]]:
        """Those due whose call has waited at the machine for as long as the tries that are left would have taken."""
        if not due or not at_the_machine(conversation):
            return []
        rows = self.connection.execute(query.unshown(conversation, self.now)).all()
        left = {row.id: (max(self.policy.tries - row.asked, 0) + 1) * self.policy.again for row in rows}
        late = [row for row in rows if row.id in due and self.now - row.rung_at >= left[row.id] and self._foremen(row)]
        return sorted(late, key=lambda row: (self._foremen(row), row.due_at, row.id))

    def _foremen(self, row: Row[Any]) -> tuple[str, ...]:
        return (row.foreman,) if row.foreman else foremen(self.connection, row.conversation)

    def _tell(self, chats: Sequence[str], fresh: Sequence[Row[Any]], *, unshown: bool = False) -> Iterator[Ring]:
        """One message for each foreman; the history has one ring."""
        key = _key(fresh)
        self._note(fresh, Audience.FOREMAN, key)
        for number, chat in enumerate(chats, 1):
            ring = replace(self._ring(chat, Audience.FOREMAN, fresh, ()), unshown=unshown)
            own = key if number == 1 else f"{key}:{chat}"
            outbox.put(self.connection, [outbox.Outgoing(own, chat, self.compose(ring), self.now)])
            yield ring

    def _ask(self, to: str, fresh: Sequence[Row[Any]], held: Sequence[Row[Any]]) -> Ring:
        ring = self._ring(to, Audience.OPERATOR, fresh, held)
        if held:
            self._rewrite(ring, held)
        else:
            outbox.put(self.connection, [outbox.Outgoing(_key(fresh), to, self.compose(ring), self.now)])
        self._note(fresh, Audience.OPERATOR, held[0].message if held else _key(fresh))
        return ring

    def _rewrite(self, ring: Ring, held: Sequence[Row[Any]]) -> None:
        """What has not left yet says how things stand now."""
        self.connection.execute(query.waiting_copies(held[0].message).values(body=write_message(self.compose(ring))))

    def _ring(self, to: str, audience: Audience, fresh: Sequence[Row[Any]], held: Sequence[Row[Any]]) -> Ring:
        ids = {row.id for row in held}
        rows = sorted((*held, *fresh), key=lambda row: (row.due_at, row.id))
        once_more = audience is Audience.OPERATOR
        items = tuple(
            ReminderItem(query.reminder_of(row), row.asked + (once_more and row.id not in ids), self._since(row.due_at))
            for row in rows
        )
        waited = [self._since(row.next_at) for row in fresh] + [self._since(row.rung_at) for row in held]
        again = [(row.id, row.rung - (row.id in ids)) for row in rows if once_more and row.asked >= 1 + (row.id in ids)]
        earlier = self._messages_of(again)
        return Ring(to, audience, self.now, items, missed=max(waited) > self.policy.grace, instead_of=earlier)

    def _messages_of(self, rings: Sequence[tuple[int, int]]) -> tuple[str, ...]:
        return tuple(self.connection.execute(query.messages_of(rings)).scalars()) if rings else ()

    def _since(self, moment: datetime) -> timedelta:
        return max(self.now - moment, timedelta())

    def _note(self, fresh: Sequence[Row[Any]], audience: Audience, key: str) -> None:
        rings = [
            {
                "reminder": row.id,
                "number": row.rung + 1,
                "audience": audience,
                "due_at": row.due_at,
                "rung_at": self.now,
                "message": key,
            }
            for row in fresh
        ]
        self.connection.execute(insert(tables.ring), rings)
        told = audience is Audience.FOREMAN
        change: dict[str, Any] = {"state": Stage.TOLD if told else Stage.ASKED, "rung": tables.reminder.c.rung + 1}
        change |= {"next_at": None} if told else {"next_at": self.now + self.policy.again, "message": key}
        change |= {} if told else {"asked": tables.reminder.c.asked + 1}
        self.connection.execute(query.these(row.id for row in fresh).values(**change))

    def _put_off(self, ids: Sequence[int], length: timedelta) -> None:
        """What was asked but has not left is not asked again on top."""
        if ids:
            self.connection.execute(query.these(ids).values(next_at=self.now + length))


def _relieve(connection: Connection, row: Row[Any], now: datetime, compose: Compose) -> None:
    """Tell those whom the message reached; as long as a worker holds it that is not known."""
    told = connection.execute(query.told_by(row.id)).all()
    if any(one.state == outbox.DeliveryState.PENDING for one in told):
        return
    reached = [one for one in told if one.state in (outbox.DeliveryState.SENT, outbox.DeliveryState.UNKNOWN)]
    for one in reached:
        notice = Relief(one.conversation, row.answered_at, query.reminder_of(row))
        key = f"relief/{row.relief}:{one.conversation}"
        outbox.put(connection, [outbox.Outgoing(key, one.conversation, compose(notice), now)])
    connection.execute(delete(tables.relief).where(tables.relief.c.id == row.relief))


def _key(fresh: Sequence[Row[Any]]) -> str:
    return f"ring/{fresh[0].id}/{fresh[0].rung + 1}"


def _notice(notice: ClockNotice, compose: Compose) -> outbox.Outgoing:
    key = f"clock/{notice.conversation}/{notice.change.kind}/{notice.change.seen_at.isoformat()}"
    return outbox.Outgoing(key, notice.conversation, compose(notice), notice.change.seen_at)
