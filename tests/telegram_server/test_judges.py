"""The judges: what they let pass, what they find, and that a finding fails the test that caused it."""

from __future__ import annotations

from typing import Any

import httpx
import pytest
from telegram import Bot

from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.judge import AiogramJudge

USER = {"id": 5, "is_bot": False, "first_name": "Operator"}
MESSAGE = {"message_id": 1, "date": 1, "chat": {"id": 5, "type": "private"}, "from": USER, "text": "hi"}


@pytest.mark.parametrize(
    ("parameters", "finds"),
    [
        ({"chat_id": 5, "text": "hi"}, ""),
        ({"chat_id": 5}, "text"),
        ({"chat_id": 5, "text": "hi", "colour": "red"}, "no such field: colour"),
        ({"chat_id": 5, "text": "hi", "reply_markup": {"inline_keyboard": [[{"label": "Yes"}]]}}, "reply_markup"),
    ],
)
def test_requests(parameters: dict[str, Any], finds: str) -> None:
    found = AiogramJudge().request("sendMessage", parameters)
    assert finds in " ".join(found)
    assert bool(found) == bool(finds)


@pytest.mark.parametrize(
    ("change", "finds"),
    [({}, ""), ({"date": "soon"}, "date"), ({"mood": "good"}, "mood"), ({"chat": {"id": 5}}, "type")],
)
def test_results_and_updates(change: dict[str, Any], finds: str) -> None:
    message = MESSAGE | change
    for found in (
        AiogramJudge().result("sendMessage", message),
        AiogramJudge().update({"update_id": 1, "message": message}),
    ):
        assert finds in " ".join(found)
        assert bool(found) == bool(finds)


async def test_a_method_that_is_missing_fails_the_test() -> None:
    with pytest.raises(AssertionError, match="no method sendDice"):
        async with TelegramServer() as server, Bot(server.token, base_url=server.base_url) as bot:
            server.user(5).says("hello")
            with pytest.raises(Exception, match="method not found"):
                await bot.send_dice(5)


async def test_a_parameter_that_is_not_heeded_fails_the_test() -> None:
    with pytest.raises(AssertionError, match="heeds no parse_mode"):
        async with TelegramServer() as server, Bot(server.token, base_url=server.base_url) as bot:
            server.user(5).says("hello")
            await bot.send_message(5, "<b>hi</b>", parse_mode="HTML")


async def test_a_field_that_the_models_lack_fails_the_test() -> None:
    with pytest.raises(AssertionError, match="no such field: colour"):
        async with TelegramServer() as server, httpx.AsyncClient() as client:
            server.user(5).says("hello")
            body = {"chat_id": 5, "text": "hi", "colour": "red"}
            await client.post(f"{server.base_url}{server.token}/sendMessage", json=body)
