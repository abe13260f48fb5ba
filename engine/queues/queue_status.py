"""How the inbox and the outbox stand: how much waits and since when, and nothing of whom or what."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select

from engine.database import Database
from engine.history.store.tables import inbox, outbox
from engine.queues.outbox import DeliveryState


@dataclass(frozen=True)
class QueueStatus:
    """``received``: updates not handled yet, from ``oldest_received`` on; ``last_received``: when the newest one came.

    ``due``: messages that should have been sent by now, the first at ``oldest_due``; ``later``: those for another time;
    ``attempts``: how often the message that failed most failed so far.
    """

    received: int
    oldest_received: datetime | None
    last_received: datetime | None
    due: int
    oldest_due: datetime | None
    later: int
    attempts: int


def standing(database: Database, now: datetime, prefix: str = "") -> QueueStatus:
    """Look, and take the write lock for a moment to see that it can be had; raises DatabaseError.

    ``prefix`` looks at those messages alone whose conversation's name begins so.
    """
    waits = inbox.c.done_at.is_(None)
    came = select(func.count(), func.min(inbox.c.received_at)).where(waits)
    pending = outbox.c.state == DeliveryState.PENDING, outbox.c.conversation.startswith(prefix, autoescape=True)
    due = select(func.count(), func.min(outbox.c.due_at)).where(*pending, outbox.c.due_at <= now)
    failed = select(func.count(), func.max(outbox.c.attempts)).where(*pending)
    with database.beside() as connection:
        received, oldest_received = connection.execute(came).one()
        last_received = connection.execute(select(func.max(inbox.c.received_at))).scalar()
        sending, oldest_due = connection.execute(due).one()
        waiting, attempts = connection.execute(failed).one()
    return QueueStatus(received, oldest_received, last_received, sending, oldest_due, waiting - sending, attempts or 0)
