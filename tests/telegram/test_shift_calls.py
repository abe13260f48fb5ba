"""A real shift in the chat: its reminder answered and put off by button, in words, and by voice note."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import update

from engine.assistant import Assistant
from engine.database import Database
from engine.history.store import tables
from engine.messages import Utterance
from engine.reminders.reminder import Reminder, Stage
from engine.reminders.schedule import Schedule
from speech.audio import encode_opus
from speech.synthesis import voices
from tests.helpers.bell import assistant
from tests.helpers.talking import beginnings
from tests.helpers.telegram_server import Person, TelegramServer
from tests.telegram.test_bell import CALLS, next_try, operator

pytestmark = pytest.mark.usefixtures("running")
PLANTING = [line for name in ("prepared", "catching", "finished", "planting") for line in beginnings()[name]]


def plant(database: Database, number: int, minutes_ago: float = 20) -> None:
    """A shift that began so long ago."""
    engine: Assistant = assistant(database)
    said_at = datetime.now(UTC) - timedelta(minutes=minutes_ago)
    for at, text in enumerate(PLANTING):
        place = {"id": f"{number}:{at}", "conversation": f"telegram:{number}", "said_at": said_at}
        engine.hear(Utterance(text=text, language="en", **place))


def open_one(database: Database, number: int) -> Reminder:
    (found,) = Schedule(database).waiting(f"telegram:{number}")
    return found


async def called(server: TelegramServer, database: Database, number: int) -> Person:
    """Somebody who plants and was just called."""
    person = operator(server, number)
    plant(database, number)
    with database.begin() as connection:
        connection.execute(update(tables.reminder).values(next_at=datetime.now(UTC)))
    assert CALLS in (await person.receives()).text
    assert open_one(database, number).stage is Stage.ASKED
    return person


def put_off_by_ten_minutes(one: Reminder) -> bool:
    length = one.due_at - datetime.now(UTC)
    return timedelta(minutes=9) < length <= timedelta(minutes=10) and one.stage is Stage.WAITING


async def test_ten_more_minutes_by_button(server: TelegramServer, database: Database) -> None:
    person = await called(server, database, 601)
    person.presses("Ten more minutes")
    assert "I ask again at" in (await person.receives()).text
    assert put_off_by_ten_minutes(open_one(database, 601))


async def test_ten_more_minutes_in_words_then_all_good_by_button(server: TelegramServer, database: Database) -> None:
    person = await called(server, database, 602)
    person.says("ten more minutes")
    assert "I ask again at" in (await person.receives()).text
    assert put_off_by_ten_minutes(open_one(database, 602))
    await next_try(database)
    assert CALLS in (await person.receives()).text
    person.presses("All good")
    assert "Next look by" in (await person.receives()).text
    one = open_one(database, 602)
    assert (one.stage, one.asked) == (Stage.WAITING, 0)
    assert one.due_at > datetime.now(UTC)


@pytest.mark.skipif(voices.choose("en") is None, reason="no English voice is installed here")
async def test_ten_more_minutes_by_voice_note(server: TelegramServer, database: Database) -> None:
    person = await called(server, database, 603)
    voice = voices.choose("en")
    assert voice
    person.sends_voice(encode_opus(voice.speak("ten more minutes")))
    assert "I ask again at" in (await person.receives()).text
    assert put_off_by_ten_minutes(open_one(database, 603))


async def test_the_button_of_a_call_counts_after_something_else_was_said(
    server: TelegramServer, database: Database
) -> None:
    person = await called(server, database, 604)
    person.says("status")
    await person.receives()
    person.presses("All good")
    assert "Next look by" in (await person.receives()).text
    answered = len(server.account.answered)
    person.presses("Ten more minutes")
    while len(server.account.answered) == answered:
        await asyncio.sleep(0.02)
    assert "earlier question" in [one.get("text", "") for one in server.account.answered.values()][-1]
    assert len(person.received) == person.seen
