"""At the door: who somebody is here, and what to do where an invitation does not let them in."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import update
from typer.testing import CliRunner

from bot.cli import app
from engine.account import Accounts
from engine.crew.people import TRIES, People
from engine.crew.roles import Act, PersonRole
from engine.database import Database
from engine.history.store import tables
from tests.helpers.crew import invited, joined
from tests.helpers.record import files_only
from tests.helpers.telegram_server import Person, TelegramServer

pytestmark = pytest.mark.usefixtures("running")


async def ask(person: Person, text: str) -> str:
    person.says(text)
    return (await person.receives()).text


@pytest.mark.parametrize(
    ("role", "lines", "last"),
    [
        (PersonRole.OPERATOR, "You are an operator of north", "Set up"),
        (PersonRole.FOREMAN, "You are a foreman of north", "People"),
        (PersonRole.OWNER, "You are an owner of north", "People"),
    ],
)
async def test_each_role_is_greeted_with_ways_on(
    server: TelegramServer, database: Database, role: PersonRole, lines: str, last: str
) -> None:
    person = server.user(701 + [*PersonRole].index(role))
    told = await ask(person, f"/start {invited(database, 'north', role)}")
    assert told.startswith(f"{lines}.\n") and "see" in told
    labels = [row[0] for row in person.received[-1].buttons]
    assert labels[0] == "Ready check" and labels[-1] == last and 2 <= len(labels) <= 5
    assert await ask(person, "/start") == told


async def test_who_invited_is_named_while_they_are_there(server: TelegramServer, database: Database) -> None:
    owner, person = server.user(711, name="Olga"), server.user(712)
    await ask(owner, f"/start {invited(database, 'north', PersonRole.OWNER)}")
    link = (await ask(owner, "/invite operator")).split("start=")[1].split()[0]
    assert "operator of north, invited by Olga." in await ask(person, f"/start {link}")
    with database.begin() as connection:
        connection.execute(update(tables.person).where(tables.person.c.name == "Olga").values(name=None))
    assert "invited by" not in await ask(person, "/start")


async def test_in_spanish_too(server: TelegramServer, database: Database) -> None:
    person = server.user(713, language="es")
    told = await ask(person, f"/start {invited(database, 'norte', PersonRole.FOREMAN)}")
    assert told.startswith("Usted es mayordomo de norte.")
    assert person.received[-1].buttons[-2:] == [["Invitar a alguien"], ["Gente"]]


async def test_alone_it_says_so_and_how_to_begin_a_farm(server: TelegramServer) -> None:
    person = server.user(714)
    assert "Nobody was invited here yet" in await ask(person, "/start")
    for act in (Act.MEMBERS, Act.INVITE, Act.PHONE, Act.LEAVE, Act.NEWS, Act.QUIET):
        assert "rowhand invite" in await ask(person, f"/{act}")


async def test_every_refusal_says_why_and_what_to_do(server: TelegramServer, database: Database) -> None:
    member = joined(server, database, 721, "north", PersonRole.OPERATOR)
    used, gone = invited(database, "north", PersonRole.OPERATOR), invited(database, "north", PersonRole.OPERATOR)
    People(database).join("telegram:799", used, datetime.now(UTC))
    stranger = server.user(722)
    with database.begin() as connection:
        late = datetime.now(UTC) - timedelta(minutes=1)
        connection.execute(
            update(tables.invitation).where(tables.invitation.c.used_by.is_(None)).values(expires_at=late)
        )
    assert "private assistant" in await ask(stranger, "hi")
    assert "used already" in await ask(stranger, f"/start {used}")
    assert "ran out" in await ask(stranger, f"/start {gone}")
    assert "do not know that invitation" in await ask(stranger, "/start guess")
    for number in range(TRIES - 3):
        stranger.says(f"/start guess{number}")
    good = invited(database, "north", PersonRole.OPERATOR)
    told = await ask(stranger, f"/start {good}")
    assert "Too many invitations" in told and any(half in told for half in ("AM", "PM"))
    elsewhere = await ask(member, f"/start {invited(database, 'south', PersonRole.OPERATOR)}")
    assert elsewhere.startswith("You are a member of north already.") and "/leave" in elsewhere
    assert [People(database).member(f"telegram:{number}") is None for number in (721, 722)] == [False, True]


async def test_a_refusal_comes_once_an_hour(server: TelegramServer, database: Database) -> None:
    member = joined(server, database, 731, "north", PersonRole.OPERATOR)
    stranger = server.user(732)
    await ask(stranger, "hi")
    for text in ("hi", "/status", "hello?"):
        stranger.says(text)
    await ask(member, "help")
    await ask(member, "help")
    assert len(stranger.received) == 1
    with database.begin() as connection:
        earlier = datetime.now(UTC) - timedelta(hours=2)
        mine = tables.outbox.c.conversation == "telegram:732"
        connection.execute(update(tables.outbox).where(mine).values(due_at=earlier))
    assert "private assistant" in await ask(stranger, "anybody?")


async def test_a_member_of_another_farm_does_not_use_the_invitation_up(
    server: TelegramServer, database: Database
) -> None:
    member = joined(server, database, 733, "north", PersonRole.OPERATOR)
    joined(server, database, 734, "north", PersonRole.OWNER)
    code = invited(database, "south", PersonRole.FOREMAN)
    for _ in range(TRIES + 1):
        await ask(member, f"/start {code}")
    await ask(member, "yes leave the farm")
    assert "foreman of south" in await ask(member, f"/start {code}")


async def test_the_menu_holds_what_the_role_may_do(server: TelegramServer, database: Database) -> None:
    owner = joined(server, database, 741, "north", PersonRole.OWNER)
    operator = joined(server, database, 742, "north", PersonRole.OPERATOR)
    for person in (owner, operator):
        await ask(person, "help")
    await ask(operator, "/spanish")
    await ask(operator, "ayuda")
    menus = server.account.commands
    for _ in range(500):
        if any("rancho" in one["description"] for one in menus.get(("742:chat", ""), [])):
            break
        await asyncio.sleep(0.01)
    names = {number: {one["command"] for one in menus[f"{number}:chat", ""]} for number in (741, 742)}
    assert {"invite", "remove", "news"} <= names[741] and not {"invite", "remove", "export"} & names[742]
    assert {"summary", "leave"} <= names[742]
    assert "Dejar el rancho" in [one["description"] for one in menus["742:chat", ""]]
    await ask(operator, "/leave yes")
    await ask(operator, "hola")
    for _ in range(500):
        if ("742:chat", "") not in menus:
            break
        await asyncio.sleep(0.01)
    assert ("742:chat", "") not in menus


async def test_who_blocks_the_chat_is_told_to_the_owner_where_no_foreman_is(
    server: TelegramServer, database: Database
) -> None:
    owner = joined(server, database, 751, "north", PersonRole.OWNER)
    operator = server.user(752, name="Otto")
    await ask(operator, f"/start {invited(database, 'north', PersonRole.OPERATOR)}")
    operator.blocks()
    told = await owner.receives()
    assert told.text.startswith("Otto cannot be reached") and not told.silent


@files_only
async def test_the_command_prints_the_address_of_the_bot_and_asks_for_it_once(
    server: TelegramServer, database: Database, place: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("ROWHAND_TELEGRAM_TOKEN", server.token)
    monkeypatch.setenv("ROWHAND_TELEGRAM_URL", server.url)
    arguments = ["invite", "north", "--db", str(place)]
    for _ in range(2):
        done = await asyncio.to_thread(CliRunner().invoke, app, arguments)
        assert done.exit_code == 0, done.output
        assert "https://t.me/rowhand_test_bot?start=" in done.output and "YOUR_BOT" not in done.output
    assert len([call for call in server.calls if call.method == "getMe"]) == 1
    number = server.token.partition(":")[0]
    assert Accounts(database).name(f"telegram:{number}") == "rowhand_test_bot"
    server.faults.network_down = True
    with database.begin() as connection:
        connection.exec_driver_sql("DELETE FROM account")
    done = await asyncio.to_thread(CliRunner().invoke, app, arguments)
    server.faults.network_down = False
    assert done.exit_code == 0 and "t.me" not in done.output and "/start " in done.output
    monkeypatch.delenv("ROWHAND_TELEGRAM_TOKEN")
    assert "https://t.me/YOUR_BOT?start=" in CliRunner().invoke(app, arguments).output
