"""What a turn does to the reminders of its conversation, in the turn's own transaction."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, assert_never

from sqlalchemy import Connection, Update, and_, insert, update

from engine.database import insert_new
from engine.history.store.tables import relief, reminder
from engine.queues.outbox import ANSWERED
from engine.reminders import query
from engine.reminders.reminder import OPEN, Answer, CallOff, Change, Remind, Snooze, Stage


def apply(connection: Connection, conversation: str, changes: Iterable[Change], at: datetime) -> None:
    """Make the changes, in order, said at this moment."""
    for change in changes:
        match change:
            case Remind():
                _remind(connection, conversation, change, at)
            case Snooze(name=name, until=until):
                again = {"state": Stage.WAITING, "due_at": until, "next_at": until, "asked": 0}
                _hush(connection, conversation, name, at)
                connection.execute(_open(conversation, name).values(**again))
            case Answer(name=name):
                _hush(connection, conversation, name, at)
                connection.execute(_open(conversation, name).values(**_settled(Stage.ANSWERED, at)))
            case CallOff(name=name):
                _hush(connection, conversation, name, at)
                connection.execute(_open(conversation, name).values(**_settled(Stage.CALLED_OFF, at)))
            case _:
                assert_never(change)


def _hush(connection: Connection, conversation: str, name: str | None, at: datetime) -> None:
    """What still waits to ask is not sent any more, unless it asks for something else too; a foreman who was told that
    nobody answers is told that somebody did."""
    told = connection.execute(query.told(conversation, name)).scalars().all()
    if told:
        connection.execute(insert(relief), [{"reminder": one, "answered_at": at} for one in told])
    settled = connection.execute(query.messages(conversation, name)).scalars().all()
    every = connection.execute(query.messages(conversation, None)).scalars().all()
    for message in {one for one in settled if every.count(one) == settled.count(one)}:
        connection.execute(query.unsent(message).values(state=query.withdrawn(), why=ANSWERED))


def _remind(connection: Connection, conversation: str, change: Remind, at: datetime) -> None:
    """Call off the open one of this name, then set it; a time that already rang does not ring again."""
    new = _row(conversation, change)
    same = and_(*(reminder.c[name] == new[name] for name in ("conversation", "name", "local", "second")))
    if connection.execute(query.told(conversation, change.name).where(~same)).first():
        _hush(connection, conversation, change.name, at)
    others = _open(conversation, change.name).where(~same)
    connection.execute(others.values(**_settled(Stage.CALLED_OFF, at)))
    insert_new(connection, reminder, [new])
    silent = and_(same, reminder.c.state == Stage.CALLED_OFF, reminder.c.rung == 0)
    connection.execute(update(reminder).where(silent).values(**new, settled_at=None))


def _row(conversation: str, change: Remind) -> dict[str, Any]:
    due_at = change.wall.instant
    return {
        "conversation": conversation,
        "name": change.name,
        "local": change.wall.local.isoformat(),
        "zone": change.wall.zone,
        "second": change.wall.second,
        "elapsed": change.elapsed,
        "foreman": change.foreman,
        "body": change.body,
        "due_at": due_at,
        "next_at": due_at,
        "state": Stage.WAITING,
        "asked": 0,
        "rung": 0,
    }


def _open(conversation: str, name: str | None) -> Update:
    mine = and_(reminder.c.conversation == conversation, reminder.c.state.in_(OPEN))
    return update(reminder).where(mine if name is None else and_(mine, reminder.c.name == name))


def _settled(stage: Stage, at: datetime) -> dict[str, Any]:
    return {"state": stage, "next_at": None, "settled_at": at}
