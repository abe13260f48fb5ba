"""What a raw update means; one that no server of the chat sends is kept, handled and not answered."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime
from typing import Any

import httpx
import pytest

from bot.settings import Settings
from bot.telegram.updates.http_server import SECRET_HEADER
from bot.telegram.updates.source import UpdateWay
from bot.telegram.updates.update import Elsewhere, Pressed, TypedText, Unusable, content, incoming
from engine.database import Database
from engine.queues.inbox import Inbox
from tests.helpers.chat_bot import SECRET, free_port, hook, settings_for, started
from tests.helpers.telegram_server import TelegramServer

NOW = datetime(2026, 4, 22, tzinfo=UTC)
ODD: list[dict[str, Any]] = [
    {"message": [1]},
    {"message": None},
    {"message": {"chat": {"id": "../x", "type": "private"}, "text": "hi"}},
    {"message": {"chat": {"id": 2**70, "type": "private"}, "text": "hi"}},
    {"message": {"chat": {"id": True, "type": "private"}, "text": "hi"}},
    {"message": {"chat": 5, "text": "hi"}},
    {"edited_message": {"chat": {}, "text": "hi"}},
    {"callback_query": 3},
    {"callback_query": {"id": "1", "from": {"id": "5"}, "data": "y"}},
    {"my_chat_member": "x"},
]


@pytest.mark.parametrize("odd", ODD)
def test_what_names_no_chat_is_unusable(odd: dict[str, Any]) -> None:
    one = incoming({"update_id": 7, **odd}, NOW)
    assert (one.conversation, content(one)) == ("telegram:0", Unusable())


def test_what_names_one_is_taken() -> None:
    chat = {"id": 5, "type": "private"}
    typed = incoming({"update_id": 1, "message": {"message_id": 9, "chat": chat, "text": "hi"}}, NOW)
    assert (typed.conversation, typed.message, content(typed)) == ("telegram:5", 9, TypedText("hi"))
    group = {"message": {"chat": {"id": -5, "type": "group"}, "text": "hi"}}
    assert content(incoming({"update_id": 2, **group}, NOW)) == Elsewhere()
    press = {"id": "1", "from": {"id": 5}, "data": "3:yes", "message": {"message_id": 8, "chat": chat}}
    assert content(incoming({"update_id": 3, "callback_query": press}, NOW)) == Pressed("1", "3:yes", 8)
    bare = {"id": "1", "from": {"id": 5}, "data": "3:yes"}
    assert content(incoming({"update_id": 4, "callback_query": bare}, NOW)) == Pressed("1", "3:yes", None)


async def test_odd_updates_by_webhook_are_confirmed_and_answer_nobody(
    server: TelegramServer, place: Any, database: Database
) -> None:
    port = free_port()
    settings: Settings = settings_for(server, place, webhook_url=hook(port), webhook_secret=SECRET, listen_port=port)
    async with started(settings, UpdateWay.WEBHOOK), httpx.AsyncClient() as client:
        async with asyncio.timeout(60):
            while not server.webhook.url:
                await asyncio.sleep(0.02)
        for number, odd in enumerate(ODD, 900):
            answer = await client.post(hook(port), json={"update_id": number, **odd}, headers={SECRET_HEADER: SECRET})
            assert answer.status_code == 200
        person = server.user(95)
        person.says("help")
        await person.receives()
        async with asyncio.timeout(60):
            while Inbox(database).waiting():
                await asyncio.sleep(0.02)
    assert {one.chat_id for one in server.transcript.sent} == {95}
