"""A call at the machine that no program there shows, on a record on which a chat runs."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from bot.bell.ringing import Ringing
from bot.settings import CONVERSATION, Settings
from engine.crew.roles import PersonRole
from engine.database import Database
from engine.reminders.reminder import Answer
from engine.reminders.schedule import Schedule
from tests.helpers.bell import CHICAGO, assistant, look
from tests.helpers.chat_bot import started
from tests.helpers.crew import joined
from tests.helpers.reminding import apply
from tests.helpers.telegram_server import TelegramServer


async def test_the_chat_tells_the_foreman(server: TelegramServer, settings: Settings, database: Database) -> None:
    foreman = joined(server, database, 604, "north", PersonRole.FOREMAN)
    now = datetime.now(UTC)
    due = now - timedelta(minutes=15)
    apply(database, look(due), conversation=CONVERSATION, at=due)
    assert len(Schedule(database).tick(due, Ringing(assistant(database), database, CHICAGO).compose)) == 1
    async with started(settings):
        told = await foreman.receives()
        assert told.text.startswith("No answer from an operator since") and "no program is open" in told.text
        apply(database, Answer("look"), conversation=CONVERSATION, at=now)
        assert (await foreman.receives()).text.startswith("Answer from an operator at")
