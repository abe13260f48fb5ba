"""What fails on demand, as the client of python-telegram-bot sees it."""

from __future__ import annotations

import pytest
from telegram import Bot
from telegram.error import (
    BadRequest,
    Conflict,
    Forbidden,
    InvalidToken,
    NetworkError,
    RetryAfter,
    TelegramError,
    TimedOut,
)

from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.fault import Cut, Gateway, Refused, Silent
from tests.helpers.telegram_server.refusal import bad_request, conflict, forbidden, too_many

pytestmark = pytest.mark.filterwarnings("ignore::telegram.warnings.PTBDeprecationWarning")


@pytest.fixture(autouse=True)
def started(server: TelegramServer) -> None:
    server.user(5).says("hello")
    server.user(6).says("hello")


@pytest.mark.parametrize(
    ("fault", "error"),
    [
        (Refused(too_many(3)), RetryAfter),
        (Refused(forbidden()), Forbidden),
        (Refused(conflict("other")), Conflict),
        (Refused(bad_request("chat not found")), BadRequest),
        (Gateway(502), NetworkError),
        (Cut(), NetworkError),
        (Silent(1.0, done=False), TimedOut),
    ],
)
async def test_a_fault_raises_and_sends_nothing(
    server: TelegramServer, bot: Bot, fault: Refused | Gateway | Cut | Silent, error: type[TelegramError]
) -> None:
    server.faults.plan("sendMessage", fault)
    with pytest.raises(error):
        await bot.send_message(5, "one", read_timeout=0.3)
    assert server.transcript.sent == []
    await bot.send_message(5, "two")
    assert [one.text for one in server.transcript.sent] == ["two"]


@pytest.mark.parametrize("fault", [Cut(done=True), Silent(1.0)])
async def test_a_lost_answer_leaves_the_message_sent(server: TelegramServer, bot: Bot, fault: Cut | Silent) -> None:
    server.faults.plan("sendMessage", fault)
    with pytest.raises(NetworkError):
        await bot.send_message(5, "one", read_timeout=0.3)
    assert [one.text for one in server.transcript.sent] == ["one"]


async def test_how_long_to_wait_is_said(server: TelegramServer, bot: Bot) -> None:
    server.faults.plan("sendMessage", Refused(too_many(7)))
    with pytest.raises(RetryAfter, match="7 seconds"):
        await bot.send_message(5, "one")


async def test_a_fault_may_be_for_one_chat_and_some_times(server: TelegramServer, bot: Bot) -> None:
    server.faults.plan("sendMessage", Gateway(), times=2, chat_id=6)
    await bot.send_message(5, "one")
    for _ in range(2):
        with pytest.raises(NetworkError):
            await bot.send_message(6, "two")
    await bot.send_message(6, "three")
    assert [one.text for one in server.transcript.sent] == ["one", "three"]


async def test_a_network_that_is_down_and_up_again(server: TelegramServer, bot: Bot) -> None:
    server.faults.network_down = True
    with pytest.raises(NetworkError):
        await bot.get_me()
    server.faults.network_down = False
    assert await bot.get_me()


async def test_another_token_is_refused(server: TelegramServer) -> None:
    stranger = Bot("1:wrong", base_url=server.base_url)
    with pytest.raises(InvalidToken):
        await stranger.initialize()
    await stranger.shutdown()
