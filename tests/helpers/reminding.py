"""Reminders without a dialog: set, answered and composed in a line each."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

from sqlalchemy import update

from engine.database import Database
from engine.history.store.tables import person
from engine.queues.outbox import Waiting
from engine.queues.outbox_message import TextMessage, words_of
from engine.reminders import reminder_changes
from engine.reminders.local_time import LocalTime
from engine.reminders.reminder import Change, ClockNotice, Relief, Remind, Ring

CHICAGO = "America/Chicago"
EVENING = datetime(2027, 4, 21, 2, 0, tzinfo=UTC)
"""Nine in the evening of 20 April in Chicago."""


def apply(database: Database, *wanted: Change, conversation: str = "c1", at: datetime = EVENING) -> None:
    with database.begin() as connection:
        reminder_changes.apply(connection, conversation, wanted, at)


def sit(database: Database, chat: str, talk: str) -> None:
    """Let somebody take part in another conversation."""
    with database.begin() as connection:
        connection.execute(update(person).where(person.c.conversation == chat).values(talk=talk))


def check(name: str = "hoppers", minutes: float = 40, foreman: str | None = None, zone: str = CHICAGO) -> Remind:
    wall = LocalTime.of(EVENING + timedelta(minutes=minutes), zone)
    return Remind(name, wall, elapsed=True, body={"rows": 8}, foreman=foreman)


def body(said: Ring | Relief | ClockNotice) -> TextMessage:
    """What is due, by the wall, or how the clock went wrong, as JSON in the text of a message."""
    return TextMessage(text=json.dumps(_told(said)))


def told_by(waiting: Waiting) -> dict[str, object]:
    """The same, out of a message that waits."""
    found: dict[str, object] = json.loads(words_of(waiting.outgoing.message))
    return found


def _told(said: Ring | Relief | ClockNotice) -> dict[str, object]:
    if isinstance(said, ClockNotice):
        return {"clock": said.change.kind, "waiting": [one.name for one in said.waiting]}
    if isinstance(said, Relief):
        return {"answered": said.reminder.name, "at": said.at.isoformat()}
    due = [f"{item.reminder.name} {item.reminder.wall.local:%H:%M}" for item in said.items]
    return {"due": due, "loud": said.loudness, "missed": said.missed, "to": said.audience}
