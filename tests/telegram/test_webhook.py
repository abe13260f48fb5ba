"""Updates brought to the bot: only with the secret, kept before they are confirmed, in order, each once."""

from __future__ import annotations

import asyncio
import contextlib
import json
import time
from collections.abc import AsyncIterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from sqlalchemy import select

from bot.settings import Settings, load_settings
from bot.telegram import intake as intakes
from bot.telegram.door import LARGEST_BYTES, SECRET_HEADER, Door, Hatch, parsed
from bot.telegram.health import MANY_ATTEMPTS, STUCK, Health
from bot.telegram.intake import Intake
from bot.telegram.source import Way
from bot.telegram.update import incoming
from engine.database import Database, open_database
from engine.errors import DatabaseError, DefinitionError, WorldError
from engine.history import tables
from engine.inbox import Inbox, Incoming
from engine.outbox import Outbox, Outgoing, put
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
        self.intake = Intake(self.inbox, self._take)
        self.door = Door("127.0.0.1", 0, Health(database), Hatch("/updates", SECRET, self.intake.keep))
        self.client = httpx.AsyncClient()

    def _take(self, updates: Sequence[Incoming]) -> None:
        self.taken += [one.update_id for one in updates]

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
    async with started(settings, Way.WEBHOOK):
        assert "How many rows" in (await person.receives()).text
        assert (server.webhook.url, server.webhook.secret) == (hook(port), SECRET)
        for word in ("four", "thirty inches"):
            person.says(word)
            await person.receives()
    assert server.webhook.url == ""
    assert {call.method for call in server.calls} & {"getUpdates"} == set()
    assert set(server.webhook.answers) == {200}
    assert [turn[2] for turn in history(Path(settings.database))["telegram:5"]] == ["set up", "four", "thirty inches"]


async def test_from_polling_to_a_webhook_and_back_nothing_is_lost_and_nothing_doubled(
    server: TelegramServer, settings: Settings
) -> None:
    person, said = server.user(5), []
    for way in (Way.POLLING, Way.WEBHOOK, Way.POLLING, Way.WEBHOOK):
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
    assert [turn[2] for turn in history(Path(settings.database))["telegram:5"]] == said
    assert len(person.received) == len(said)


async def test_an_unfriendly_start_is_waited_out_and_a_stolen_webhook_taken_back(
    server: TelegramServer, settings: Settings, port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bot.telegram.webhook.WATCH_S", 0.05)
    server.faults.plan("setWebhook", Gateway(502), times=2)
    async with started(settings, Way.WEBHOOK):
        person = server.user(5)
        person.says("help")
        await person.receives(timeout=10)
        await server.webhook.stop()
        server.webhook.url = ""
        person.says("set up")
        assert "How many rows" in (await person.receives(timeout=10)).text
        assert server.webhook.url == hook(port)


async def test_what_the_server_refuses_for_good_ends_the_program(server: TelegramServer, settings: Settings) -> None:
    server.faults.plan("setWebhook", Refused(bad_request("bad webhook: an unfit address")))
    with pytest.raises(DefinitionError, match=r"webhook_url.*an unfit address"):
        async with started(settings, Way.WEBHOOK) as work:
            await asyncio.wait_for(work, 5)


async def test_without_an_address_or_a_free_port_it_says_so(server: TelegramServer, settings: Settings) -> None:
    with pytest.raises(DefinitionError, match="ROWHAND_WEBHOOK_URL"):
        async with started(settings_for(server, Path(settings.database)), Way.WEBHOOK):
            pass
    async with started(settings, Way.WEBHOOK):
        person = server.user(5)
        person.says("help")
        await person.receives()
        with pytest.raises(WorldError, match="another program may use it"):
            async with started(settings, Way.WEBHOOK) as second:
                await second
        assert server.webhook.url


async def test_health_can_be_had_while_polling(server: TelegramServer, settings: Settings, port: int) -> None:
    async with started(settings, Way.POLLING_WITH_HEALTH):
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
    assert status in await asyncio.wait_for(reader.readline(), 2)
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
    monkeypatch.setattr("bot.telegram.door.BODY_S", 0.2)
    slow = House(database)
    slow.door.open()
    reader, writer = await asyncio.open_connection("127.0.0.1", slow.door.port)
    head = f"POST /updates HTTP/1.1\r\nHost: x\r\n{SECRET_HEADER}: {SECRET}\r\nContent-Length: 100\r\n\r\n"
    writer.write(head.encode() + b"{")
    assert await asyncio.wait_for(reader.read(), 5) == b""
    writer.close()
    await slow.client.aclose()
    await slow.door.close()


async def test_it_is_on_the_disk_before_it_is_confirmed(house: House, place: Path) -> None:
    for number in (1, 2):
        assert await house.bring(text(number)) == 200
        with open_database(place).read() as other:
            assert number in other.execute(select(tables.inbox.c.update_id)).scalars().all()


async def test_what_comes_twice_is_kept_once(house: House) -> None:
    assert [await house.bring(text(number)) for number in (1, 2, 1, 2)] == [200] * 4
    assert await asyncio.gather(*(house.bring(text(3)) for _ in range(8))) == [200] * 8
    assert (house.kept(), house.taken) == ([1, 2, 3], [1, 2, 3])


async def test_what_comes_together_is_taken_in_order(house: House) -> None:
    await house.bring(text(1))
    assert set(await asyncio.gather(*(house.bring(text(number, number)) for number in range(40, 1, -1)))) == {200}
    assert sorted(house.taken) == house.kept() == list(range(1, 41))


async def test_a_press_waits_for_the_text_before_it(house: House) -> None:
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
    real = Inbox.put
    monkeypatch.setattr("bot.telegram.door.ANSWER_S", 0.1)
    monkeypatch.setattr(Inbox, "put", lambda *given: time.sleep(0.4) or real(*given))  # type: ignore[func-returns-value]
    assert await house.bring(text(1)) == 503
    await asyncio.sleep(0.5)
    assert house.taken == [1]


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
        put(connection, [Outgoing(name, name, {"text": "words"}, due) for name, due in moments.items()])
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
        put(connection, [Outgoing("k", "telegram:1", {}, now - STUCK - timedelta(seconds=1))])
    assert (await house.health())[1]["reasons"] == ["a message waits for more than 10 minutes"]
    for _ in range(MANY_ATTEMPTS):
        outbox.mark_failed("k", now + timedelta(hours=1))
    assert await house.health() == (503, (await house.health())[1])
    assert (await house.health())[1]["reasons"] == [f"a message failed {MANY_ATTEMPTS} times"]


async def test_a_database_that_fails_is_told(house: House, place: Path) -> None:
    house.inbox.database.close()
    for file in place.parent.glob(f"{place.name}*"):
        file.write_bytes(b"no database at all, but long enough to be read as one " * 100)
    status, body = await house.health()
    assert (status, body["database"]) == (503, "failing")
    assert body["reasons"] == ["the database fails"]
