"""A shift as the foreman hears of it: alarms at once, its end when it can wait."""

from __future__ import annotations

import pytest

from engine.database import Database
from engine.roles import Role
from tests.helpers.crew import almost_done, joined
from tests.helpers.telegram_server import TelegramServer

BEGUN = (
    "shift",
    "four four seven",
    "skip",
    "North field",
    "eighty acres",
    "all on",
    "all forty pounds",
    "fifty pounds",
    "roll",
    "five acres",
    "skip",
)
pytestmark = pytest.mark.usefixtures("running")


async def test_a_row_that_stops_and_the_end_of_the_shift(server: TelegramServer, database: Database) -> None:
    operator = joined(server, database, 601, "north", Role.OPERATOR)
    foreman = joined(server, database, 602, "north", Role.FOREMAN)
    almost_done(database, 601)
    operator.says("enough")
    await operator.hears("Test run finished")
    await foreman.receives()
    await foreman.receives()
    await operator.receives()
    await operator.receives()
    for said in BEGUN:
        operator.says(said)
        last = await operator.receives()
    assert "Planting from" in last.text
    before = len(foreman.received)
    operator.says("row two stopped")
    await operator.receives()
    alarm = await foreman.hears("nothing comes out of row 2")
    assert not alarm.silent and len(foreman.received) == before + 1
    for said in ("end of shift", "done"):
        operator.says(said)
        last = await operator.receives()
    assert last.text.startswith("Shift over")
    assert last.text.splitlines()[0] in (await foreman.hears("ended a shift")).text
