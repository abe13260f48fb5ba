"""What is said once when its time has come: to its conversation and to the foremen, with nothing to answer.

It goes out in a message of its own, so that an answer to a look answers nothing of it, and it hides no look. What is to
be said, its ring and its messages are written in one transaction.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, Row, insert

from engine.history.store import tables
from engine.queues import outbox
from engine.reminders import query
from engine.reminders.escalation import foremen
from engine.reminders.reminder import Audience, Compose, ReminderItem, Ring, Stage


def notify(
    connection: Connection, row: Row[Any], now: datetime, grace: timedelta, compose: Compose
) -> tuple[Ring, ...]:
    """Say what is due, and note that it was."""
    item = ReminderItem(query.reminder_of(row), 1, max(now - row.due_at, timedelta()))
    ring = Ring(row.conversation, Audience.OPERATOR, now, (item,), missed=now - row.next_at > grace)
    chats = (row.foreman,) if row.foreman else foremen(connection, row.conversation)
    copies = tuple(replace(ring, conversation=chat, audience=Audience.FOREMAN) for chat in chats)
    key = f"ring/{row.id}/{row.rung + 1}"
    own = outbox.Outgoing(key, row.conversation, compose(ring), now)
    others = [outbox.Outgoing(f"{key}:{one.conversation}", one.conversation, compose(one), now) for one in copies]
    outbox.put(connection, [own, *others])
    _note(connection, row, now, key)
    return (ring, *copies)


def _note(connection: Connection, row: Row[Any], now: datetime, key: str) -> None:
    noted = {"reminder": row.id, "number": row.rung + 1, "due_at": row.due_at, "rung_at": now, "message": key}
    connection.execute(insert(tables.ring).values(**noted, audience=Audience.OPERATOR))
    said = {"state": Stage.SAID, "asked": 1, "rung": row.rung + 1, "message": key}
    connection.execute(query.these([row.id]).values(**said, next_at=None, settled_at=now))
