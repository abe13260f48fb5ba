"""The door of the webhook: who may bring what, and that it is kept before it is confirmed."""

from __future__ import annotations

import asyncio
import contextlib
import json
import threading
import time
from collections.abc import AsyncIterator, Sequence
from pathlib import Path
from typing import Any

import httpx
import pytest
from sqlalchemy import select

from bot.settings import Settings
from bot.telegram.updates import intake as intakes
from bot.telegram.updates.http_server import LARGEST_BYTES, SECRET_HEADER, Health, HttpServer, UpdateEndpoint, parsed
from bot.telegram.updates.intake import Intake
from engine.database import Database, open_database
from engine.errors import DatabaseError
from engine.history.store import tables
from engine.queues.inbox import Inbox, Incoming
from tests.helpers.chat_bot import SECRET, free_port, hook, settings_for
from tests.helpers.record import where
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


# ---- the door


@pytest.mark.parametrize("secret", [None, "", SECRET[:-1], SECRET + "x", SECRET.upper(), "ünpassend"])
async def test_nobody_without_the_secret_stores_anything(house: House, secret: str | None) -> None:
    headers = {} if secret is None else {SECRET_HEADER: secret.encode("latin-1").decode("latin-1")}
    raw = {name: value.encode("latin-1") for name, value in headers.items()}
    assert await house.bring(text(1), raw) == 403  # type: ignore[arg-type]
    assert (house.kept(), house.taken) == ([], [])


@pytest.mark.parametrize(
    ("secret", "length", "status"), [("wrong", 900_000, b"403"), (SECRET, LARGEST_BYTES + 1, b"413")]
)
async def test_secret_and_size_are_looked_at_before_the_body_is_read(
    house: House, secret: str, length: int, status: bytes
) -> None:
    reader, writer = await asyncio.open_connection("127.0.0.1", house.door.port)
    head = f"POST /updates HTTP/1.1\r\nHost: x\r\n{SECRET_HEADER}: {secret}\r\nContent-Length: {length}\r\n\r\n"
    writer.write(head.encode())
    assert status in await asyncio.wait_for(reader.readline(), 60)
    writer.close()


async def test_a_body_of_unknown_length_has_the_same_limit(house: House) -> None:
    async def endless() -> AsyncIterator[bytes]:
        for _ in range(LARGEST_BYTES // 50_000 + 5):
            yield b" " * 50_000

    with contextlib.suppress(httpx.TransportError):
        answer = await house.client.post(
            f"http://127.0.0.1:{house.door.port}/updates", content=endless(), headers=KNOWN
        )
        assert answer.status_code in (400, 413)
    assert house.kept() == []
    assert await house.bring(text(1)) == 200


@pytest.mark.parametrize(
    ("body", "headers", "path", "status"),
    [
        (b"", KNOWN, "/updates", 400),
        (b"{", KNOWN, "/updates", 400),
        (b"[1]", KNOWN, "/updates", 400),
        (b'{"update_id": "7"}', KNOWN, "/updates", 400),
        (b'{"update_id": NaN}', KNOWN, "/updates", 400),
        (b'{"update_id": 7, "message": "\\ud800"}', KNOWN, "/updates", 400),
        (b"[" * 200_000, KNOWN, "/updates", 400),
        (text(1), KNOWN, "/", 404),
        (text(1), KNOWN, "/updates/more", 404),
        (text(1), KNOWN, "/health", 405),
    ],
)
async def test_what_is_no_update_is_refused(
    house: House, body: object, headers: dict[str, str], path: str, status: int
) -> None:
    assert await house.bring(body, headers, path) == status
    assert house.kept() == []
    assert await house.bring(text(1)) == 200


def test_an_update_is_parsed_as_it_came() -> None:
    assert parsed(json.dumps(text(7) | {"more": "ñ 🌽"}).encode()) == text(7) | {"more": "ñ 🌽"}
    assert parsed(b'{"update_id": true}') is None
    assert parsed(b'{"update_id": 9223372036854775808}') is None


async def test_a_slow_sender_is_cut_off(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bot.telegram.updates.http_server.BODY_S", 0.2)
    slow = House(database)
    slow.door.open()
    reader, writer = await asyncio.open_connection("127.0.0.1", slow.door.port)
    head = f"POST /updates HTTP/1.1\r\nHost: x\r\n{SECRET_HEADER}: {SECRET}\r\nContent-Length: 100\r\n\r\n"
    writer.write(head.encode() + b"{")
    assert await asyncio.wait_for(reader.read(), 60) == b""
    writer.close()
    await slow.client.aclose()
    await slow.door.close()


async def test_a_slow_head_is_cut_off(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bot.telegram.updates.http_server.IDLE_S", 0.2)
    slow = House(database)
    slow.door.open()
    reader, writer = await asyncio.open_connection("127.0.0.1", slow.door.port)
    writer.write(b"POST /updates HTTP/1.1\r\nHost: x\r\nX-Slow: ")
    assert await asyncio.wait_for(reader.read(), 60) == b""
    writer.close()
    await slow.client.aclose()
    await slow.door.close()


async def test_it_is_on_the_disk_before_it_is_confirmed(house: House, place: Path) -> None:
    for number in (1, 2):
        assert await house.bring(text(number)) == 200
        with open_database(where(place)).read() as other:
            assert number in other.execute(select(tables.inbox.c.update_id)).scalars().all()


async def test_what_comes_twice_is_kept_once(house: House) -> None:
    assert [await house.bring(text(number)) for number in (1, 2, 1, 2)] == [200] * 4
    assert await asyncio.gather(*(house.bring(text(3)) for _ in range(8))) == [200] * 8
    assert (house.kept(), house.taken) == ([1, 2, 3], [1, 2, 3])


async def test_what_comes_together_is_taken_in_order(house: House) -> None:
    await house.bring(text(1))
    assert set(await asyncio.gather(*(house.bring(text(number, number)) for number in range(40, 1, -1)))) == {200}
    assert sorted(house.taken) == house.kept() == list(range(1, 41))


async def test_a_press_waits_for_the_text_before_it(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(intakes, "HOLD_S", 60.0)
    await house.bring(text(1))
    hurried = asyncio.create_task(house.bring(press(3)))
    await asyncio.sleep(0.1)
    assert house.taken == [1]
    await house.bring(text(2))
    assert await hurried == 200
    assert house.taken == [1, 2, 3]


async def test_but_not_for_ever(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(intakes, "HOLD_S", 0.1)
    await house.bring(text(1))
    assert await house.bring(press(9)) == 200
    assert house.taken == [1, 9]


async def test_a_full_disk_is_not_confirmed_and_comes_again(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    real = Inbox.put
    monkeypatch.setattr(Inbox, "put", lambda *_: (_ for _ in ()).throw(DatabaseError("the disk is full")))
    assert await house.bring(text(1)) == 503
    monkeypatch.setattr(Inbox, "put", real)
    assert house.taken == []
    assert await house.bring(text(1)) == 200
    assert house.taken == house.kept() == [1]


async def test_one_that_cannot_be_kept_stops_no_other(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    real = Inbox.put

    def fails(inbox: Inbox, updates: Sequence[Incoming]) -> tuple[Incoming, ...]:
        time.sleep(0.05)
        if any(one.update_id == 3 for one in updates):
            raise ValueError("impossible")
        return real(inbox, updates)

    monkeypatch.setattr(Inbox, "put", fails)
    answers = await asyncio.gather(*(house.bring(text(number)) for number in range(1, 6)))
    assert answers == [200, 200, 500, 200, 200]
    assert sorted(house.taken) == [1, 2, 4, 5]


async def test_a_disk_that_hangs_is_told_in_time(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    real, spins_again = Inbox.put, threading.Event()
    monkeypatch.setattr("bot.telegram.updates.http_server.ANSWER_S", 0.1)
    monkeypatch.setattr(Inbox, "put", lambda *given: spins_again.wait(60) and real(*given))
    assert await house.bring(text(1)) == 503
    spins_again.set()
    async with asyncio.timeout(60):
        while house.taken != [1]:
            await asyncio.sleep(0.01)
