"""Delivery to an address: in order per chat, again until it is taken, with the secret."""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import AsyncIterator, Callable
from typing import Any

import pytest
from aiohttp import web
from telegram import Bot, InlineKeyboardButton, InlineKeyboardMarkup
from telegram.error import BadRequest

from tests.helpers.telegram_server import TelegramServer

SECRET = "a-secret_of-the-test"


class Receiver:
    """The bot's side: takes updates, or answers as ``status`` says."""

    def __init__(self) -> None:
        self.updates: list[dict[str, Any]] = []
        self.secrets: set[str | None] = set()
        self.status: Callable[[dict[str, Any]], int] = lambda _update: 200
        self.url = ""

    async def take(self, request: web.Request) -> web.Response:
        update = await request.json()
        status = self.status(update)
        self.secrets.add(request.headers.get("X-Telegram-Bot-Api-Secret-Token"))
        if status == 200:
            self.updates.append(update)
        return web.Response(status=status)

    def texts(self, chat_id: int) -> list[str]:
        messages = [update["message"] for update in self.updates if "message" in update]
        return [message["text"] for message in messages if message["chat"]["id"] == chat_id]

    async def has(self, count: int) -> None:
        async with asyncio.timeout(60):
            while len(self.updates) < count:
                await asyncio.sleep(0.01)


@pytest.fixture
async def receiver() -> AsyncIterator[Receiver]:
    made, app = Receiver(), web.Application()
    app.router.add_post("/hook", made.take)
    runner = web.AppRunner(app, access_log=None)
    await runner.setup()
    await web.TCPSite(runner, "127.0.0.1", 0).start()
    made.url = f"http://127.0.0.1:{runner.addresses[0][1]}/hook"
    yield made
    await runner.cleanup()


async def test_each_chat_in_order_with_the_secret(server: TelegramServer, bot: Bot, receiver: Receiver) -> None:
    server.user(5).says("before")
    await bot.set_webhook(receiver.url, secret_token=SECRET)
    for number in range(20):
        server.user(5 + number % 2).says(str(number))
    await receiver.has(21)
    assert receiver.texts(5) == ["before", *(str(number) for number in range(0, 20, 2))]
    assert receiver.texts(6) == [str(number) for number in range(1, 20, 2)]
    assert receiver.secrets == {SECRET}


async def test_a_refused_update_comes_again_and_holds_back_only_its_chat(
    server: TelegramServer, bot: Bot, receiver: Receiver
) -> None:
    tries: Counter[str] = Counter()

    def status(update: dict[str, Any]) -> int:
        text = update["message"]["text"]
        tries[text] += 1
        return 500 if text == "stuck" and tries[text] < 4 else 200

    receiver.status = status
    await bot.set_webhook(receiver.url)
    server.user(5).says("stuck")
    server.user(5).says("after")
    server.user(6).says("free")
    await receiver.has(3)
    assert (receiver.texts(5), tries) == (["stuck", "after"], {"stuck": 4, "after": 1, "free": 1})
    assert receiver.updates[0]["message"]["text"] == "free"
    info = await bot.get_webhook_info()
    assert info.pending_update_count == 0
    assert info.last_error_message == "Wrong response from the webhook: 500 Internal Server Error"


async def test_a_press_may_overtake_a_text_of_its_chat(server: TelegramServer, bot: Bot, receiver: Receiver) -> None:
    person = server.user(5)
    person.says("hello")
    await bot.get_updates(offset=-1)
    await bot.send_message(
        5, "Ready?", reply_markup=InlineKeyboardMarkup([[InlineKeyboardButton("Yes", callback_data="y")]])
    )
    held = asyncio.Event()
    receiver.status = lambda update: 200 if held.is_set() or "callback_query" in update else 503
    server.updates.drop()
    await bot.set_webhook(receiver.url)
    person.says("text first")
    person.presses("Yes")
    await receiver.has(1)
    assert "callback_query" in receiver.updates[0]
    held.set()
    await receiver.has(2)
    assert receiver.texts(5) == ["text first"]


async def test_what_waits_can_be_dropped_or_kept(server: TelegramServer, bot: Bot, receiver: Receiver) -> None:
    receiver.status = lambda _update: 500
    await bot.set_webhook(receiver.url)
    server.user(5).says("one")
    await bot.delete_webhook()
    updates = await bot.get_updates()
    assert [update.message.text for update in updates if update.message] == ["one"]
    await bot.set_webhook(receiver.url, drop_pending_updates=True)
    assert (await bot.get_webhook_info()).pending_update_count == 0


@pytest.mark.parametrize(("url", "secret"), [("http://127.0.0.1:9/", "no spaces"), ("http://192.0.2.1/", "fine")])
async def test_a_bad_secret_or_an_address_elsewhere_is_refused(bot: Bot, url: str, secret: str) -> None:
    with pytest.raises(BadRequest):
        await bot.set_webhook(url, secret_token=secret)
