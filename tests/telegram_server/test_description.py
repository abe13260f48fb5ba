"""The published description of the Bot API as a judge; ROWHAND_TELEGRAM_API names its file, else this is skipped."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.judge import DESCRIPTION, DescriptionJudge, description

pytestmark = pytest.mark.skipif(
    not os.environ.get(DESCRIPTION), reason=f"{DESCRIPTION} names no description of the Bot API: this judge did not run"
)
MESSAGE = {"message_id": 1, "date": 1, "chat": {"id": 5, "type": "private"}, "text": "hi"}


@pytest.fixture
def judge() -> DescriptionJudge:
    return description(Path(os.environ[DESCRIPTION]))


def test_it_judges_every_server_of_this_run(judge: DescriptionJudge) -> None:
    assert judge in TelegramServer().judges
    assert len(judge.methods) > 100


def test_every_method_and_parameter_of_the_server_is_described(judge: DescriptionJudge) -> None:
    server = TelegramServer()
    heeded = {name: method.heeds for name, method in server.methods.items()} | server.own
    for name, parameters in heeded.items():
        described = {field["name"] for field in judge.methods[name].get("fields", [])}
        assert parameters <= described, name


@pytest.mark.parametrize(
    ("parameters", "finds"),
    [
        ({"chat_id": 5, "text": "hi"}, ""),
        ({"chat_id": 5}, "text is missing"),
        ({"chat_id": 5, "text": "x" * 4097}, "4097 characters"),
        ({"chat_id": 5, "text": 7}, "String expected"),
        ({"chat_id": 5, "text": "hi", "colour": "red"}, "no such field: colour"),
        (
            {
                "chat_id": 5,
                "text": "hi",
                "reply_markup": {"inline_keyboard": [[{"text": "a", "callback_data": "é" * 33}]]},
            },
            "66 bytes",
        ),
    ],
)
def test_requests(judge: DescriptionJudge, parameters: dict[str, Any], finds: str) -> None:
    found = judge.request("sendMessage", parameters)
    assert finds in " ".join(found)
    assert bool(found) == bool(finds)


@pytest.mark.parametrize(
    ("change", "finds"),
    [({}, ""), ({"date": "soon"}, "Integer expected"), ({"mood": "good"}, "mood"), ({"chat": 5}, "Chat")],
)
def test_results_and_updates(judge: DescriptionJudge, change: dict[str, Any], finds: str) -> None:
    message = MESSAGE | change
    for found in (judge.result("sendMessage", message), judge.update({"update_id": 1, "message": message})):
        assert finds in " ".join(found)
        assert bool(found) == bool(finds)


def test_an_update_of_two_kinds_is_wrong(judge: DescriptionJudge) -> None:
    assert judge.update({"update_id": 1, "message": MESSAGE, "edited_message": MESSAGE})
