"""A server and a network that fail: everything arrives in the end, in order, and a lost chat stops nobody."""

from __future__ import annotations

import asyncio
import time
from pathlib import Path

import pytest
from pydantic import SecretStr

from bot.settings import Settings
from engine.database import Database
from engine.errors import DefinitionError
from engine.history.store.journal import Journal
from engine.queues.inbox import Gone
from engine.queues.outbox import DeliveryState, Outbox
from tests.helpers.chat_bot import settings_for, started
from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.fault import Cut, Gateway, Refused, Repeats, Shuffled
from tests.helpers.telegram_server.refusal import forbidden, too_many


async def test_too_many_requests_are_waited_out_in_that_chat_only(server: TelegramServer, running: None) -> None:
    slow, other = server.user(80), server.user(82)
    server.faults.plan("sendMessage", Refused(too_many(3600)), chat_id=80)
    slow.says("set up")
    other.says("set up")
    await other.receives()
    assert slow.received == []


async def test_what_waited_comes_in_order(server: TelegramServer, running: None) -> None:
    slow = server.user(81)
    server.faults.plan("sendMessage", Refused(too_many(1)), chat_id=81)
    begun = time.monotonic()
    slow.says("set up")
    slow.says("two")
    assert "How many rows" in (await slow.receives()).text
    assert time.monotonic() - begun >= 1
    assert "rows" in (await slow.receives()).text


async def test_bad_gateways_and_cut_lines_lose_nothing(server: TelegramServer, running: None) -> None:
    person = server.user(83)
    server.faults.plan("sendMessage", Gateway(502), times=2)
    person.says("set up")
    first = await person.receives()
    assert not first.text.startswith("This may come twice")
    server.faults.plan("sendMessage", Cut(done=True))
    person.says("two")
    told = await person.receives()
    again = await person.receives()
    assert again.text == f"This may come twice: {told.text}"


async def test_a_chat_that_blocked_the_bot_is_marked_and_comes_back(
    server: TelegramServer, running: None, database: Database
) -> None:
    person, other = server.user(84), server.user(85)
    person.says("help")
    await person.receives()
    server.faults.plan("sendMessage", Refused(forbidden()), chat_id=84)
    person.says("set up")
    other.says("help")
    await other.receives()
    while not Gone(database).all():
        await asyncio.sleep(0.02)
    assert Gone(database).all() == {"telegram:84"}
    (turn,) = Journal(database).turns("telegram:84", after=1)
    while (kept := Outbox(database).find(f"reply:{turn.utterance_id}")) and kept.state is DeliveryState.PENDING:
        await asyncio.sleep(0.02)
    assert kept is not None
    assert (kept.state, kept.why) == (DeliveryState.FAILED, "gone")
    person.says("two")
    assert "far apart" in (await person.receives()).text
    assert Gone(database).all() == frozenset()


async def test_the_network_goes_and_comes_back(server: TelegramServer, running: None, database: Database) -> None:
    person = server.user(86)
    person.says("set up")
    await person.receives()
    server.faults.network_down = True
    person.says("two")
    await asyncio.sleep(0.5)
    server.faults.network_down = False
    assert await person.hears("far apart")
    assert [turn.heard for turn in Journal(database).turns("telegram:86")] == ["set up", "two"]


async def test_started_without_network_it_waits_for_it(server: TelegramServer, settings: Settings) -> None:
    server.faults.network_down = True
    async with started(settings) as work:
        server.user(87).says("help")
        await asyncio.sleep(0.3)
        assert not work.done()
        server.faults.network_down = False
        await server.user(87).receives()


async def test_a_token_that_the_server_does_not_know_ends_it_with_a_sentence(
    server: TelegramServer, place: Path
) -> None:
    wrong = settings_for(server, place).model_copy(update={"telegram_token": SecretStr("1:wrong")})
    with pytest.raises(DefinitionError, match="does not know this token"):
        async with started(wrong) as work:
            await asyncio.wait_for(work, 60)


async def test_a_record_in_memory_is_refused_with_a_sentence(settings: Settings) -> None:
    with pytest.raises(DefinitionError, match=r"is in memory.*name a file with --db"):
        async with started(settings.model_copy(update={"database": ":memory:"})):
            pass


async def test_doubled_and_mixed_batches_change_nothing(
    server: TelegramServer, settings: Settings, database: Database
) -> None:
    people = [server.user(number) for number in (88, 89)]
    for said in ("set up", "two", "thirty inches"):
        for person in people:
            person.says(said)
    server.faults.plan("getUpdates", Shuffled(3, within_chats=True))
    server.faults.plan("getUpdates", Repeats(6), times=2)
    async with started(settings):
        for person in people:
            await person.hears("dial")
        people[0].says("help")
        await people[0].receives()
    for person, more in zip(people, (["help"], []), strict=True):
        turns = Journal(database).turns(f"telegram:{person.id}")
        assert [turn.heard for turn in turns] == ["set up", "two", "thirty inches", *more]
