"""People of farms, for tests of the chat."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from engine.assistant import Assistant
from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import Database
from engine.messages import Utterance
from tests.helpers.chat_crash import SAID
from tests.helpers.telegram_server import Person, TelegramServer

ALMOST_DONE = [
    *SAID[:16],
    "row one twelve, row two twelve, row three twelve, row four twelve",
    "forty one seconds",
    "row one sixty eight grams",
    "row two sixty eight grams",
    "skip row three",
    "row four seventy grams",
]
"""A set-up and a test run up to the question whether to go on; ``enough`` ends it."""


def invited(database: Database, farm: str, role: PersonRole) -> str:
    return People(database).invite(farm, role, datetime.now(UTC) + timedelta(days=1))


def joined(server: TelegramServer, database: Database, number: int, farm: str, role: PersonRole) -> Person:
    """Somebody who is a member already, and whose chat the bot may write to."""
    People(database).join(f"telegram:{number}", invited(database, farm, role), datetime.now(UTC))
    person = server.user(number)
    person.chat.open = True
    return person


def almost_done(database: Database, number: int, until: int | None = None) -> None:
    """Say ALMOST_DONE in the conversation of a chat, up to ``until``."""
    assistant = Assistant(database)
    for at, text in enumerate(ALMOST_DONE[:until]):
        place = {"id": f"{number}:{at}", "conversation": f"telegram:{number}", "said_at": datetime.now(UTC)}
        assistant.hear(Utterance(text=text, language="en", **place))  # type: ignore[arg-type]
