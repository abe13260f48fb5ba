"""What runs by elapsed time, kept right where the clock that people set was moved."""

from __future__ import annotations

from datetime import datetime, timedelta

from sqlalchemy import Connection, insert, update

from engine.history.store import tables
from engine.reminders import query
from engine.reminders.reminder import ClockChange, is_once


def beat(connection: Connection, now: datetime) -> None:
    """Note that the program was awake now."""
    if not connection.execute(update(tables.heartbeat).values(seen_at=now)).rowcount:
        connection.execute(insert(tables.heartbeat).values(id=1, seen_at=now))


def mend(connection: Connection, change: ClockChange, since: int | None) -> None:
    """Move what runs by elapsed time with the clock.

    A look is never moved later: too soon costs a look, too late an acre. What is said once must not come too soon: it
    is moved either way where it was set under this clock, as those behind the reminder ``since`` are, else its hour
    stands, as it was told.
    """
    beat(connection, change.seen_at)
    for row in connection.execute(query.elapsed()).all():
        if _is_set_under(row.id, since) if is_once(row.body) else change.by < timedelta():
            moved = {"due_at": row.due_at + change.by, "next_at": row.next_at + change.by}
            connection.execute(query.these([row.id]).values(**moved))


def _is_set_under(number: int, since: int | None) -> bool:
    return since is not None and number > since
