"""The health of the channel, as a machine asks for it."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest

from bot.settings import Settings
from bot.telegram.updates.http_server import MANY_ATTEMPTS, SECRET_HEADER, STUCK, Health, HttpServer, UpdateEndpoint
from bot.telegram.updates.intake import Intake
from bot.telegram.updates.update import incoming
from engine.database import Database
from engine.queues.inbox import Inbox, Incoming
from engine.queues.outbox import Outbox, Outgoing, Setback, put
from engine.queues.outbox_message import TextMessage
from tests.helpers.chat_bot import SECRET, free_port, hook, settings_for
from tests.helpers.record import files_only
from tests.helpers.telegram_server import TelegramServer

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


# ---- health


async def test_health_of_an_idle_channel(house: House) -> None:
    status, body = await house.health()
    assert status == 200
    assert body == {
        "status": "ok",
        "reasons": [],
        "database": "ok",
        "inbox": {"waiting": 0, "oldest_s": None},
        "outbox": {"due": 0, "oldest_s": None, "later": 0, "attempts": 0},
        "last_update": None,
    }


async def test_health_counts_what_waits_and_names_nobody(house: House) -> None:
    now = datetime.now(UTC)
    moments = {"telegram:1": now - timedelta(seconds=3), "telegram:2": now + timedelta(hours=1), "console": now}
    with house.inbox.database.begin() as connection:
        put(connection, [Outgoing(name, name, TextMessage(text="words"), due) for name, due in moments.items()])
    await house.bring(text(1))
    status, body = await house.health()
    assert (status, body["inbox"]["waiting"], body["outbox"]["due"], body["outbox"]["later"]) == (200, 1, 1, 1)
    assert 3 <= body["outbox"]["oldest_s"] < 60
    assert abs(datetime.fromisoformat(body["last_update"]) - now) < timedelta(minutes=1)
    assert not any(word in json.dumps(body) for word in ("telegram:", "words", "console"))


async def test_a_stuck_update_is_told(house: House) -> None:
    house.inbox.put([incoming(text(1), datetime.now(UTC) - STUCK - timedelta(seconds=1))])
    status, body = await house.health()
    assert (status, body["reasons"]) == (503, ["an update waits for more than 10 minutes"])
    house.inbox.done(1, datetime.now(UTC))
    assert (await house.health())[0] == 200


async def test_a_stuck_message_is_told(house: House) -> None:
    outbox, now = Outbox(house.inbox.database), datetime.now(UTC)
    with house.inbox.database.begin() as connection:
        put(connection, [Outgoing("k", "telegram:1", TextMessage(text=""), now - STUCK - timedelta(seconds=1))])
    assert (await house.health())[1]["reasons"] == ["a message waits for more than 10 minutes"]
    for _ in range(MANY_ATTEMPTS):
        outbox.settle((Setback("k", now + timedelta(hours=1)),))
    assert await house.health() == (503, (await house.health())[1])
    assert (await house.health())[1]["reasons"] == [f"a message failed {MANY_ATTEMPTS} times"]


@files_only
async def test_a_database_that_fails_is_told(house: House, place: Path) -> None:
    house.inbox.database.close()
    for file in place.parent.glob(f"{place.name}*"):
        file.write_bytes(b"no database at all, but long enough to be read as one " * 100)
    status, body = await house.health()
    assert (status, body["database"]) == (503, "failing")
    assert body["reasons"] == ["the database fails"]
