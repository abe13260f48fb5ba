"""Updates brought to the bot: only with the secret, kept before they are confirmed, in order, each once."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Sequence
from pathlib import Path
from typing import Any

import httpx
import pytest

from bot.settings import Settings, load_settings
from bot.telegram.updates.http_server import SECRET_HEADER, Health, HttpServer, UpdateEndpoint
from bot.telegram.updates.intake import Intake
from bot.telegram.updates.source import UpdateWay
from engine.database import Database
from engine.errors import DefinitionError, WorldError
from engine.queues.inbox import Inbox, Incoming
from tests.helpers.chat_bot import SECRET, free_port, history, hook, settings_for, started
from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.fault import Gateway, Refused
from tests.helpers.telegram_server.refusal import bad_request

KNOWN = {SECRET_HEADER: SECRET}


def text(number: int, chat: int = 5) -> dict[str, Any]:
    sender = {"id": chat, "type": "private"}
    return {"update_id": number, "message": {"message_id": number, "chat": sender, "text": str(number)}}


def press(number: int, chat: int = 5) -> dict[str, Any]:
    return {"update_id": number, "callback_query": {"id": "1", "from": {"id": chat}, "data": "y"}}


@pytest.fixture
def port() -> int:
    return free_port()


@pytest.fixture
def settings(server: TelegramServer, place: Path, port: int) -> Settings:
    return settings_for(server, place, webhook_url=hook(port), webhook_secret=SECRET, listen_port=port)


class House:
    """A door with an inbox behind it and no chat server before it; ``taken`` is what would be answered."""

    def __init__(self, database: Database) -> None:
        self.inbox, self.taken = Inbox(database), list[int]()
        self.intake = Intake(self._keep)
        self.door = HttpServer("127.0.0.1", 0, Health(database), UpdateEndpoint("/updates", SECRET, self.intake.keep))
        self.client = httpx.AsyncClient()

    async def _keep(self, updates: Sequence[Incoming]) -> tuple[Incoming, ...]:
        fresh = await asyncio.to_thread(self.inbox.put, updates)
        self.taken += [one.update_id for one in fresh]
        return fresh

    async def bring(self, body: object, headers: dict[str, str] = KNOWN, path: str = "/updates") -> int:
        content = body if isinstance(body, bytes) else json.dumps(body).encode()
        address = f"http://127.0.0.1:{self.door.port}{path}"
        return (await self.client.post(address, content=content, headers=headers)).status_code

    async def health(self) -> tuple[int, dict[str, Any]]:
        answer = await self.client.get(f"http://127.0.0.1:{self.door.port}/health")
        return answer.status_code, answer.json()

    def kept(self) -> list[int]:
        return [one.update_id for one in self.inbox.waiting()]


@pytest.fixture
async def house(database: Database) -> AsyncIterator[House]:
    built = House(database)
    built.door.open()
    work = asyncio.create_task(built.intake.run())
    yield built
    work.cancel()
    await built.client.aclose()
    await built.door.close()


# ---- the whole channel


async def test_a_conversation_is_brought_and_the_address_is_given_back(
    server: TelegramServer, settings: Settings, port: int
) -> None:
    person = server.user(5)
    person.says("set up")
    async with started(settings, UpdateWay.WEBHOOK):
        assert "How many rows" in (await person.receives()).text
        assert (server.webhook.url, server.webhook.secret) == (hook(port), SECRET)
        for word in ("four", "thirty inches"):
            person.says(word)
            await person.receives()
    assert server.webhook.url == ""
    assert {call.method for call in server.calls} & {"getUpdates"} == set()
    assert set(server.webhook.answers) == {200}
    assert [turn[2] for turn in history(settings.database)["telegram:5"]] == ["set up", "four", "thirty inches"]


async def test_from_polling_to_a_webhook_and_back_nothing_is_lost_and_nothing_doubled(
    server: TelegramServer, settings: Settings
) -> None:
    person, said = server.user(5), []
    for way in (UpdateWay.POLLING, UpdateWay.WEBHOOK, UpdateWay.POLLING, UpdateWay.WEBHOOK):
        for word in ("help", "status"):
            person.says(word)
            said.append(word)
        async with started(settings, way):
            while len(person.received) < len(said):
                await person.receives()
        person.says("set up")
        said.append("set up")
    async with started(settings):
        while len(person.received) < len(said):
            await person.receives()
        await asyncio.sleep(0.2)
    assert [turn[2] for turn in history(settings.database)["telegram:5"]] == said
    assert len(person.received) == len(said)


async def test_an_unfriendly_start_is_waited_out_and_a_stolen_webhook_taken_back(
    server: TelegramServer, settings: Settings, port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.telegram.updates.source.WATCH_S", 0.05)
    server.faults.plan("setWebhook", Gateway(502), times=2)
    async with started(settings, UpdateWay.WEBHOOK):
        person = server.user(5)
        person.says("help")
        await person.receives()
        await server.webhook.stop()
        server.webhook.url = ""
        person.says("set up")
        assert "How many rows" in (await person.receives()).text
        assert server.webhook.url == hook(port)


async def test_what_the_server_refuses_for_good_ends_the_program(server: TelegramServer, settings: Settings) -> None:
    server.faults.plan("setWebhook", Refused(bad_request("bad webhook: an unfit address")))
    with pytest.raises(DefinitionError, match=r"webhook_url.*an unfit address"):
        async with started(settings, UpdateWay.WEBHOOK) as work:
            await asyncio.wait_for(work, 60)


async def test_without_an_address_or_a_free_port_it_says_so(server: TelegramServer, settings: Settings) -> None:
    with pytest.raises(DefinitionError, match="ROWHAND_WEBHOOK_URL"):
        async with started(settings_for(server, Path(settings.database)), UpdateWay.WEBHOOK):
            pass
    async with started(settings, UpdateWay.WEBHOOK):
        person = server.user(5)
        person.says("help")
        await person.receives()
        with pytest.raises(WorldError, match="another program may use it"):
            async with started(settings, UpdateWay.WEBHOOK) as second:
                await second
        assert server.webhook.url


async def test_health_can_be_had_while_polling(server: TelegramServer, settings: Settings, port: int) -> None:
    async with started(settings, UpdateWay.POLLING_WITH_HEALTH):
        person = server.user(5)
        person.says("help")
        await person.receives()
        async with httpx.AsyncClient() as client:
            assert (await client.get(f"http://127.0.0.1:{port}/health")).json()["status"] == "ok"
            assert (await client.post(hook(port), json=text(1), headers=KNOWN)).status_code == 404


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("webhook_url", "http://farm.example/updates"),
        ("webhook_url", "https://farm.example"),
        ("webhook_url", "https://farm.example/health"),
        ("webhook_secret", "too-short"),
        ("webhook_secret", "sixteen letters, but with spaces"),
    ],
)
def test_unfit_settings(name: str, value: str) -> None:
    with pytest.raises(DefinitionError, match=name) as caught:
        load_settings(**{name: value})
    assert name != "webhook_secret" or value not in str(caught.value)
