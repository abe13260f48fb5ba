"""The bell of re-entry in the chat: to all who take part and to the foreman, once, without a sound in quiet hours."""

from __future__ import annotations

from datetime import UTC, datetime, time

import pytest

from engine.crew.notifications import Notifications, NotificationWishes, Quiet
from engine.crew.roles import PersonRole
from engine.database import Database
from engine.reminders.schedule import Schedule
from tests.helpers.bell import field_over
from tests.helpers.crew import joined
from tests.helpers.reminding import apply, sit
from tests.helpers.telegram_server import TelegramServer

OVER = "Ridge 40: the re-entry time told from the label ended at"


@pytest.mark.usefixtures("running")
async def test_everybody_hears_it_once_and_nothing_is_to_be_answered(
    server: TelegramServer, database: Database
) -> None:
    person = joined(server, database, 451, "north", PersonRole.OPERATOR)
    other = joined(server, database, 452, "north", PersonRole.OPERATOR)
    foreman = joined(server, database, 453, "north", PersonRole.FOREMAN)
    stranger = joined(server, database, 454, "south", PersonRole.FOREMAN)
    sit(database, "telegram:452", "telegram:451")
    foreman.says("español")
    await foreman.receives()
    now = datetime.now(UTC)
    for chat, quiet in (("telegram:451", None), ("telegram:452", Quiet(time(0), time(0), "UTC"))):
        Notifications(database, "UTC").want(chat, NotificationWishes(runs=True, shifts=True, quiet=quiet))
    apply(database, field_over(now), conversation="telegram:451", at=now)
    first, second, third = [await one.receives() for one in (person, other, foreman)]
    assert first.text.startswith(OVER) and second.text.startswith(OVER)
    assert third.text.startswith("Ridge 40: el plazo de reingreso")
    assert [one.buttons for one in (first, second, third)] == [[], [], []]
    assert (first.silent, second.silent) == (False, True)
    assert Schedule(database).waiting("telegram:451") == ()
    person.says("help")
    await person.receives()
    assert [len(one.received) for one in (person, foreman, stranger)] == [2, 2, 0]
