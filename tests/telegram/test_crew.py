"""Invitations, strangers and foremen: who is answered, and that one farm never reaches another."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime, time

import pytest
from typer.testing import CliRunner

from bot.cli import app
from engine.crew.notifications import Notifications, NotificationWishes, Quiet
from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import Database
from engine.history.store.journal import Journal
from engine.queues.outbox import Outbox
from tests.helpers.crew import ALMOST_DONE, almost_done, invited, joined
from tests.helpers.record import files_only
from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.fault import Refused
from tests.helpers.telegram_server.refusal import forbidden

pytestmark = pytest.mark.usefixtures("running")


async def test_a_link_lets_one_person_in_once(server: TelegramServer, database: Database) -> None:
    code = invited(database, "north", PersonRole.OPERATOR)
    person, other = server.user(101), server.user(102)
    person.says(f"/start {code}")
    assert "set up" in (await person.receives()).text
    other.says(f"/start {code}")
    assert "used already" in (await other.receives()).text
    person.says("set up")
    assert "How many rows" in (await person.receives()).text


async def test_a_stranger_gets_one_line_and_nothing_is_kept(server: TelegramServer, database: Database) -> None:
    member = joined(server, database, 103, "north", PersonRole.OPERATOR)
    stranger = server.user(104, language="es")
    stranger.says("/start")
    line = await stranger.receives()
    assert "asistente privado" in line.text
    for forged in ("0:set up", "telegram:103", "1:yes"):
        stranger.calls_back(forged, line.message_id)
    for said in ("set up", "/status", "preparar"):
        stranger.says(said)
    stranger.sends_voice(b"OggS not fetched", duration=1)
    member.says("help")
    await member.receives()
    member.says("help")
    await member.receives()
    assert len(stranger.received) == 1
    assert Journal(database).turns("telegram:104") == ()
    assert not [call for call in server.calls if call.method == "getFile"]


async def test_only_the_foremen_of_the_farm_hear_of_a_finished_run(server: TelegramServer, database: Database) -> None:
    operator = joined(server, database, 105, "north", PersonRole.OPERATOR)
    foreman = joined(server, database, 106, "north", PersonRole.FOREMAN)
    others = [
        joined(server, database, 107, "north", PersonRole.OPERATOR),
        joined(server, database, 108, "south", PersonRole.FOREMAN),
        joined(server, database, 109, "south", PersonRole.OWNER),
    ]
    awake = joined(server, database, 115, "north", PersonRole.FOREMAN)
    quiet_all_day = Quiet(time(0), time(0), "UTC")
    Notifications(database, "UTC").want(
        "telegram:106", NotificationWishes(runs=True, shifts=False, quiet=quiet_all_day)
    )
    Notifications(database, "UTC").want("telegram:115", NotificationWishes(runs=True, shifts=False, quiet=None))
    almost_done(database, 105)
    operator.says("enough")
    assert "Test run finished" in (await operator.receives()).text
    shown = [(one.method, one.silent) for one in (await operator.receives(), await operator.receives())]
    assert shown == [("sendPhoto", True), ("sendDocument", True)]
    told = await foreman.receives()
    assert told.text.splitlines() == [
        "An operator: test run 1 finished.",
        "2 of 4 rows on target; not: 3, 4.",
        "8.71 lb/acre.",
        "Row 3: no catch.",
        "Row 4: 70 g, +2.9 %, setting 12, within tolerance by the catch, not sure yet.",
    ]
    assert (told.method, told.silent) == ("sendPhoto", True)
    assert not (await awake.receives()).silent
    for person in (foreman, awake):
        pages = await person.receives()
        assert (pages.method, pages.silent, (pages.file or b"")[:5]) == ("sendDocument", True, b"%PDF-")
    for other in others:
        assert other.received == []
        assert Outbox(database).pending(f"telegram:{other.id}") == ()


async def test_forged_buttons_of_another_farm_reach_only_ones_own_talk(
    server: TelegramServer, database: Database
) -> None:
    joined(server, database, 110, "north", PersonRole.OPERATOR)
    intruder = joined(server, database, 111, "south", PersonRole.OPERATOR)
    almost_done(database, 110)
    before = Journal(database).turns("telegram:110")
    intruder.says("help")
    shown = await intruder.receives()
    for forged in (f"{len(ALMOST_DONE)}:enough", "telegram:110:enough", f"telegram:110|{len(ALMOST_DONE)}:enough"):
        query = intruder.calls_back(forged, shown.message_id)
        while query not in server.account.answered:
            await asyncio.sleep(0.01)
        assert "earlier question" in server.account.answered[query]["text"]
    for asked in ("status", "target", "what was row one", "last catch", "1"):
        intruder.says(asked)
        assert "68" not in (await intruder.receives()).text
    assert Journal(database).turns("telegram:110") == before


async def test_the_foreman_hears_when_an_operator_is_lost(server: TelegramServer, database: Database) -> None:
    operator = joined(server, database, 112, "north", PersonRole.OPERATOR)
    foreman = joined(server, database, 113, "north", PersonRole.FOREMAN)
    server.faults.plan("sendMessage", Refused(forbidden()), chat_id=112)
    operator.says("set up")
    told = await foreman.receives()
    assert "cannot be reached" in told.text
    assert not told.silent


@files_only
def test_the_command_makes_an_invitation(database: Database, place: object) -> None:
    done = CliRunner().invoke(app, ["invite", "north", "--role", "foreman", "--db", str(place)])
    assert done.exit_code == 0, done.output
    code = done.output.split()[-1]
    member = People(database).join("telegram:114", code, datetime.now(UTC))
    assert member is not None
    assert (member.farm, member.role) == ("north", PersonRole.FOREMAN)
