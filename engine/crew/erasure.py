"""Forgetting a person: their name, their chat and what waited for it go; the farm's record stays, called after nobody.

The law can ask for more than a person wants: the application records of federally restricted-use pesticides are kept
for two years in the United States (7 CFR 110.3), and local law may ask for more. The journal refuses every change but
this one: a turn loses the chat it is called after, and keeps all else. Snapshots of the conversations in which the
person had a part go, and are made anew from the facts. On SQLite what is deleted is overwritten.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, delete, insert, select, update

from engine.crew.people import nameless
from engine.database import Database
from engine.history.store import snapshot, tables
from engine.queues.outbox import DeliveryState, Outgoing, put
from engine.queues.outbox_message import read_message, write_message
from engine.reminders.reminder import OPEN, Stage

NOBODY = "forgotten"


@dataclass(frozen=True)
class Erasure:
    """Takes people out of a record."""

    database: Database

    def forget(self, chat: str, now: datetime, asked: int | None = None, farewell: Sequence[Outgoing] = ()) -> None:
        """Take a person out, all at once; ``asked`` is the update that wanted it, done with this.

        The ``farewell`` goes to the outbox, and has to go out of it when it was sent.
        """
        with self.database.begin() as connection:
            if connection.dialect.name == "sqlite":
                connection.exec_driver_sql("PRAGMA secure_delete = ON")
            done = update(tables.inbox).where(tables.inbox.c.update_id == asked)
            connection.execute(done.values(done_at=now, body=None))
            _drop_snapshots(connection, chat)
            _unname(connection, chat)
            self._rename(connection, chat, now)
            _delete(connection, chat)
            put(connection, farewell)

    def _rename(self, connection: Connection, chat: str, now: datetime) -> None:
        """Call the conversation of the chat after nobody; others who share it go on in it."""
        old = connection.execute(select(tables.conversation).where(tables.conversation.c.id == chat)).first()
        if old is None:
            return
        new = nameless(chat)
        row = {"id": new, "farm": old.farm, "created": old.created, "planter": old.planter}
        connection.execute(insert(tables.conversation).values(row))
        for table, column in (
            (tables.turn, tables.turn.c.conversation),
            (tables.person, tables.person.c.talk),
            (tables.invitation, tables.invitation.c.joins),
            (tables.speaker, tables.speaker.c.talk),
            (tables.reminder, tables.reminder.c.conversation),
        ):
            connection.execute(update(table).where(column == chat).values({column: new}))
        connection.execute(delete(tables.conversation).where(tables.conversation.c.id == chat))
        others = select(tables.person.c.conversation).where(
            tables.person.c.talk == new, tables.person.c.conversation != chat
        )
        if connection.execute(others).first() is None:
            _call_off(connection, new, now)


def _drop_snapshots(connection: Connection, chat: str) -> None:
    person, speaker = tables.person.c, tables.speaker.c
    shared = [select(person.talk).where(person.conversation == chat), select(speaker.talk).where(speaker.chat == chat)]
    for talk in {chat, *(one for query in shared for one in connection.execute(query).scalars() if one)}:
        snapshot.drop(connection, talk)


def _unname(connection: Connection, chat: str) -> None:
    """Messages to others of the farm with a name of the person in them go: those that were sent at once, those that
    still wait when they have arrived."""
    person, speaker, outbox = tables.person.c, tables.speaker.c, tables.outbox
    me = connection.execute(select(person.farm, person.name).where(person.conversation == chat)).first()
    names = [*connection.execute(select(speaker.name).where(speaker.chat == chat)).scalars(), me and me.name]
    known = "|".join(re.escape(name) for name in names if name)
    if me is None or not known:
        return
    farm = select(person.conversation).where(person.farm == me.farm)
    named = re.compile(rf"(?<!\w)({known})(?!\w)")
    for row in connection.execute(select(outbox).where(outbox.c.conversation.in_(farm))).all():
        if any(map(named.search, _texts(row.body))):
            this = outbox.c.id == row.id
            body = _to_forget(row.body) if row.state in (DeliveryState.PENDING, DeliveryState.UNKNOWN) else None
            connection.execute(update(outbox).where(this).values(body=body) if body else delete(outbox).where(this))


def _texts(body: object) -> Iterator[str]:
    """Every text in what JSON holds."""
    if isinstance(body, str):
        yield body
    inside = body.values() if isinstance(body, dict) else body if isinstance(body, list) else ()
    for one in inside:
        yield from _texts(one)


def _to_forget(body: dict[str, object]) -> dict[str, object] | None:
    """A message of which nothing is kept once it arrived; None for one that cannot be read, nor sent."""
    try:
        return write_message(read_message(body).model_copy(update={"forget": True}))
    except ValueError:
        return None


def _call_off(connection: Connection, talk: str, now: datetime) -> None:
    """Nobody is left to be reminded."""
    reminder = tables.reminder
    still = update(reminder).where(reminder.c.conversation == talk, reminder.c.state.in_(OPEN))
    connection.execute(still.values(state=Stage.CALLED_OFF, next_at=None, settled_at=now))


def _delete(connection: Connection, chat: str) -> None:
    for table, column in (
        (tables.person, tables.person.c.conversation),
        (tables.news, tables.news.c.chat),
        (tables.attempt, tables.attempt.c.conversation),
        (tables.gone, tables.gone.c.conversation),
        (tables.hold, tables.hold.c.conversation),
        (tables.outbox, tables.outbox.c.conversation),
        (tables.speaker, tables.speaker.c.chat),
    ):
        connection.execute(delete(table).where(column == chat))
    used, inbox = tables.invitation.c.used_by, tables.inbox.c
    connection.execute(update(tables.invitation).where(used == chat).values(used_by=NOBODY))
    mine = tables.invitation.c.invited_by
    connection.execute(update(tables.invitation).where(mine == chat).values(invited_by=None))
    done = update(tables.inbox).where(inbox.conversation == chat, inbox.done_at.is_not(None))
    connection.execute(done.values(conversation=NOBODY))
    connection.execute(update(tables.reminder).where(tables.reminder.c.foreman == chat).values(foreman=None))
