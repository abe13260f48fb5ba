"""The people of the demo's farm: an operator, who talks at the machine, and a foreman, who has a phone."""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.settings import CONVERSATION
from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import Database

FARM = "farm"
CREW = ((CONVERSATION, PersonRole.OPERATOR, "Alex"), ("foreman", PersonRole.FOREMAN, None))


def join(database: Database, now: datetime) -> None:
    """Make them members of one farm, where they are not yet."""
    people = People(database)
    for chat, role, name in CREW:
        if people.member(chat) is None:
            people.admit(chat, people.invite(FARM, role, now + timedelta(hours=1)), now, name)
