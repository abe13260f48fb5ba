"""What a turn does to the reminders of its conversation, in the turn's own transaction."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, assert_never

from sqlalchemy import Connection, and_, bindparam, insert, not_, or_, select, update

from engine.history.store.tables import relief, reminder
from engine.queues.outbox import ANSWERED
from engine.reminders import query
from engine.reminders.reminder import OPEN, Answer, CallOff, Change, Remind, Snooze, Stage

_UNIQUE = ("conversation", "name", "local", "second")
_SAME = and_(*(reminder.c[name] == bindparam(f"of_{name}") for name in _UNIQUE))
_ITS_NAME = and_(*(reminder.c[name] == bindparam(f"of_{name}") for name in _UNIQUE[:2]))
_IS_OPEN = reminder.c.state.in_(OPEN)
_IS_SAID = and_(reminder.c.state == Stage.SAID, reminder.c.name == bindparam("said"))
_RUNG = select(reminder.c.rung).where(reminder.c.conversation == bindparam("of"), or_(_IS_OPEN, _IS_SAID))
_CALLED = select(reminder.c.state, reminder.c.rung, _SAME.label("same")).where(_ITS_NAME, or_(_IS_OPEN, _SAME))
_SET = insert(reminder)
_OPEN = update(reminder).where(_ITS_NAME, _IS_OPEN)
_SETTLE = update(reminder).values(state=bindparam("stage"), next_at=None, settled_at=bindparam("at"))
_SETTLE_OTHERS = _SETTLE.where(_ITS_NAME, _IS_OPEN, not_(_SAME))
_SETTLE_NAME = _SETTLE.where(_ITS_NAME, _IS_OPEN)
_SETTLE_EVERY = _SETTLE.where(reminder.c.conversation == bindparam("of_conversation"), _IS_OPEN)


def apply(connection: Connection, conversation: str, changes: Iterable[Change], at: datetime) -> None:
    """Make the changes, in order, said at this moment."""
    for change in changes:
        match change:
            case Remind():
                _remind(connection, conversation, change, at)
            case Snooze(name=name, until=until):
                again = {"state": Stage.WAITING, "due_at": until, "next_at": until, "asked": 0}
                _hush(connection, conversation, name, at)
                connection.execute(_OPEN.values(**again), {"of_conversation": conversation, "of_name": name})
            case Answer(name=name):
                _settle(connection, conversation, name, Stage.ANSWERED, at)
            case CallOff(name=name):
                _settle(connection, conversation, name, Stage.CALLED_OFF, at)
            case _:
                assert_never(change)


def _settle(connection: Connection, conversation: str, name: str | None, stage: Stage, at: datetime) -> None:
    """Nothing more is asked for the open one of this name, or for every open one."""
    _hush(connection, conversation, name, at)
    settled = {"of_conversation": conversation, "stage": stage, "at": at}
    if name is None:
        connection.execute(_SETTLE_EVERY, settled)
    else:
        connection.execute(_SETTLE_NAME, settled | {"of_name": name})


def _hush(connection: Connection, conversation: str, name: str | None, at: datetime) -> None:
    """What still waits to ask is not sent any more, unless it asks for something else too; a foreman who was told that
    nobody answers is told that somebody did. Where nothing rang yet, nobody was asked or told."""
    if not any(connection.execute(_RUNG, {"of": conversation, "said": name}).scalars()):
        return
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
    which = {f"of_{name}": new[name] for name in _UNIQUE}
    known = connection.execute(_CALLED, which).all()
    same = [one for one in known if one.same]
    others = {one.state for one in known if not one.same}
    if Stage.TOLD in others:
        _hush(connection, conversation, change.name, at)
    if others:
        connection.execute(_SETTLE_OTHERS, which | {"stage": Stage.CALLED_OFF, "at": at})
    if not same:
        connection.execute(_SET, new)
    elif same[0].state == Stage.CALLED_OFF and not same[0].rung:
        connection.execute(update(reminder).where(_SAME).values(**new, settled_at=None), which)


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
        "body": change.kept_body,
        "due_at": due_at,
        "next_at": due_at,
        "state": Stage.WAITING,
        "asked": 0,
        "rung": 0,
    }
