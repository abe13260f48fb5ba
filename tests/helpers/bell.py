"""Rings and notices of the clock as the schedule makes them, without a schedule."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.database import Database
from engine.messages import Language, System, Utterance
from engine.quantities import Measure
from engine.reminders.local_time import LocalTime
from engine.reminders.reminder import (
    Audience,
    ClockChange,
    ClockKind,
    ClockNotice,
    Remind,
    Reminder,
    ReminderItem,
    Ring,
    Stage,
)
from engine.shift import WatchSettings
from tests.helpers.talking import library

CHICAGO = "America/Chicago"
DUE = datetime(2027, 4, 21, 6, 40, tzinfo=UTC)
"""1:40 in the night in Chicago."""
LOOKED = DUE - timedelta(minutes=25)


def assistant(
    database: Database, language: Language = "en", system: System = System.US, zone: str = CHICAGO
) -> Assistant:
    rules = ConversationDefaults(language=language, system=system, watch=WatchSettings(zone=zone))
    return Assistant(database, rules, library())


def look(
    due: datetime = DUE, zone: str = CHICAGO, looked: datetime | None = None, foreman: str | None = None
) -> Remind:
    """The reminder of a shift that plants five acres between the looks."""
    area = Measure(value=5.0, unit="acre").model_dump(mode="json")
    at = looked or due - timedelta(minutes=25)
    body: dict[str, object] = {"at": at.isoformat(), "due": due.isoformat(), "area": area, "decided_by": "acres"}
    return Remind("look", LocalTime.of(due, zone), elapsed=True, body=body, foreman=foreman)


def field_over(due: datetime = DUE, field: str = "Ridge 40") -> Remind:
    """The bell of a field whose re-entry interval of two days is over."""
    body: dict[str, object] = {"reentry": field, "since": (due - timedelta(hours=52)).isoformat()}
    return Remind(f"reentry {field.casefold()}", LocalTime.of(due, CHICAGO), elapsed=True, body=body, once=True)


def waiting_field(number: int = 1, due: datetime = DUE, field: str = "Ridge 40", talk: str = "c") -> Reminder:
    change = field_over(due, field)
    return Reminder(number, talk, change.name, change.wall, due, due, Stage.WAITING, 0, 0, change.kept_body)


def reminder(number: int = 1, due: datetime = DUE, talk: str = "c", asked: int = 0, area: bool = True) -> Reminder:
    change = look(due)
    body = change.body if area else {}
    stage = Stage.ASKED if asked else Stage.WAITING
    return Reminder(number, talk, "look", change.wall, due, due, stage, asked, asked, body)


def ring(
    *items: Reminder,
    to: str = "c",
    now: datetime | None = None,
    audience: Audience = Audience.OPERATOR,
    missed: bool = False,
) -> Ring:
    once_more = audience is Audience.OPERATOR
    moment = now or max(item.due_at for item in items)
    told = tuple(ReminderItem(item, item.asked + once_more, moment - item.due_at) for item in items)
    return Ring(to, audience, moment, told, missed)


def notice(kind: ClockKind, by: timedelta, *waiting: Reminder, now: datetime = DUE) -> ClockNotice:
    return ClockNotice("c", ClockChange(kind, by, now), waiting)


def say(assistant: Assistant, text: str, at: datetime, conversation: str = "c") -> str:
    language = assistant.state(conversation).language
    said = Utterance(
        id=f"{conversation}:{at.isoformat()}:{text}",
        conversation=conversation,
        text=text,
        language=language,
        said_at=at,
    )
    return assistant.hear(said).reply.text
