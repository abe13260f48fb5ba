"""getUpdates: offsets, confirmation, waiting, life times, one poller at a time."""

from __future__ import annotations

import asyncio
import time

import pytest
from telegram import Bot
from telegram.error import BadRequest, Conflict, NetworkError

from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.fault import Cut, Repeats, Shuffled


async def texts(bot: Bot, offset: int | None = None, limit: int = 100, timeout: int = 0) -> list[str | None]:
    updates = await bot.get_updates(offset, limit, timeout)
    return [(update.edited_message or update.message).text for update in updates if update.effective_message]  # type: ignore[union-attr]


async def test_nothing_is_confirmed_before_a_higher_offset(server: TelegramServer, bot: Bot) -> None:
    for word in ("one", "two", "three"):
        server.user(5).says(word)
    assert await texts(bot, limit=2) == ["one", "two"]
    assert await texts(bot) == ["one", "two", "three"]
    first = (await bot.get_updates(limit=1))[0].update_id
    assert await texts(bot, offset=first + 1) == ["two", "three"]
    assert await texts(bot) == ["two", "three"]
    assert [one.update_id for one in server.updates.confirmed] == [first]


async def test_a_negative_offset_forgets_all_before(server: TelegramServer, bot: Bot) -> None:
    for word in ("one", "two", "three"):
        server.user(5).says(word)
    assert await texts(bot, offset=-1) == ["three"]
    assert await texts(bot) == ["three"]


async def test_a_long_poll_ends_when_something_comes_or_its_time_is_over(server: TelegramServer, bot: Bot) -> None:
    start = time.monotonic()
    waiting = asyncio.create_task(texts(bot, timeout=60))
    await asyncio.sleep(0.1)
    server.user(5).says("hello")
    assert await waiting == ["hello"]
    assert time.monotonic() - start < 50
    server.updates.drop()
    start = time.monotonic()
    assert await texts(bot, timeout=1) == []
    assert time.monotonic() - start > 0.9


async def test_a_second_poller_ends_the_first(server: TelegramServer, bot: Bot) -> None:
    first = asyncio.create_task(bot.get_updates(timeout=60))
    await asyncio.sleep(0.1)
    async with Bot(server.token, base_url=server.base_url) as other:
        assert await other.get_updates(timeout=0) == ()
    with pytest.raises(Conflict, match="terminated by other getUpdates"):
        await first


async def test_polling_and_a_webhook_exclude_each_other(server: TelegramServer, bot: Bot) -> None:
    await bot.set_webhook("http://127.0.0.1:9/none")
    with pytest.raises(Conflict, match="webhook is active"):
        await bot.get_updates()
    await bot.delete_webhook()
    assert await bot.get_updates() == ()


async def test_old_updates_die(server: TelegramServer, bot: Bot) -> None:
    person = server.user(5)
    person.says("old")
    await bot.send_message(5, "a?", reply_markup={"inline_keyboard": [[{"text": "Yes", "callback_data": "y"}]]})  # type: ignore[arg-type]
    person.presses("Yes")
    server.clock.forward(151)
    updates = await bot.get_updates()
    assert [update.callback_query for update in updates] == [None]
    server.clock.forward(24 * 3600)
    assert await bot.get_updates() == ()
    assert len(server.updates.expired) == 2


async def test_kinds_that_were_not_asked_for_never_come_and_the_choice_stays(server: TelegramServer, bot: Bot) -> None:
    await bot.get_updates(allowed_updates=["message"])
    person = server.user(5)
    message = person.says("one")
    person.edits(message, "two")
    assert await texts(bot) == ["one"]
    await bot.get_updates(allowed_updates=[])
    person.edits(message, "three")
    assert await texts(bot) == ["one", "three"]


async def test_an_edit_keeps_the_number_of_its_message(server: TelegramServer, bot: Bot) -> None:
    message = server.user(5).says("/done 7")
    server.user(5).edits(message, "/done 8")
    first, second = await bot.get_updates()
    assert first.message
    assert second.edited_message
    assert first.message.message_id == second.edited_message.message_id
    assert (first.message.text, second.edited_message.text) == ("/done 7", "/done 8")


async def test_a_cut_line_gives_the_same_batch_again(server: TelegramServer, bot: Bot) -> None:
    server.user(5).says("one")
    server.faults.plan("getUpdates", Cut(done=True))
    with pytest.raises(NetworkError):
        await bot.get_updates()
    assert await texts(bot) == ["one"]


async def test_confirmed_updates_may_come_again_and_in_another_order(server: TelegramServer, bot: Bot) -> None:
    for number in range(6):
        server.user(5 + number % 2).says(str(number))
    last = (await bot.get_updates())[-1].update_id
    await bot.get_updates(offset=last)
    server.faults.plan("getUpdates", Repeats(2))
    assert await texts(bot) == ["3", "4", "5"]
    for number in range(6, 12):
        server.user(5 + number % 2).says(str(number))
    server.faults.plan("getUpdates", Shuffled(seed=1))
    mixed = await texts(bot, offset=last + 1)
    assert mixed != sorted(mixed, key=lambda text: int(text or 0))
    for parity in (0, 1):
        own = [int(text or 0) for text in mixed if int(text or 0) % 2 == parity]
        assert own == sorted(own)


async def test_a_chat_that_never_wrote_is_not_found(server: TelegramServer, bot: Bot) -> None:
    server.user(5)
    with pytest.raises(BadRequest, match="Chat not found"):
        await bot.send_message(5, "hello")
