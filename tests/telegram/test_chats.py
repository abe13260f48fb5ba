"""Chats take turns: a long queue delays nobody else, and several programs share the work, each chat in its order."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncIterator, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.telegram.channel import EVERY_KIND, WorkKind, work_kinds
from bot.telegram.updates.intake import QUICK_AT_ONCE, Chats
from engine.database import Database, open_database
from engine.errors import InputError
from engine.queues.inbox import Inbox, Incoming
from engine.queues.lease import LEASE, Leases, worker_name
from tests.helpers.record import where
from tests.helpers.worker import dead_worker

NOW = datetime(2027, 4, 21, 12, tzinfo=UTC)


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    opened = open_database(where(tmp_path / "record.db"))
    yield opened
    opened.close()


def came(number: int, chat: int, slow: bool = False) -> Incoming:
    return Incoming(number, f"telegram:{chat}", number, {}, NOW, slow)


class Work:
    """Handles updates at once, and remembers which, and how many it had in hand."""

    def __init__(self, database: Database) -> None:
        self.inbox, self.done = Inbox(database), list[int]()
        self.at_work, self.most = 0, 0

    async def take(self, one: Incoming) -> None:
        if one.slow:
            await asyncio.Event().wait()
        self.at_work += 1
        self.most = max(self.most, self.at_work)
        await asyncio.sleep(0)
        self.at_work -= 1
        self.done.append(one.update_id)
        self.inbox.done(one.update_id, NOW)

    async def until(self, count: int) -> None:
        async with asyncio.timeout(60):
            while len(self.done) < count:
                await asyncio.sleep(0.01)


@contextlib.asynccontextmanager
async def program(database: Database, work: Work) -> AsyncIterator[Chats]:
    chats = Chats(work.take, Inbox(database), asyncio.to_thread, worker_name())
    chats.ready.set()
    running = asyncio.create_task(chats.run())
    yield chats
    running.cancel()
    await chats.stop()


async def test_nothing_is_begun_before_it_can_be_answered(database: Database) -> None:
    work = Work(database)
    async with program(database, work) as chats:
        chats.ready.clear()
        await chats.keep([came(1, 1)])
        await asyncio.sleep(0.1)
        assert (work.done, len(Inbox(database).waiting())) == ([], 1)
        chats.ready.set()
        await work.until(1)


async def test_a_long_queue_of_one_chat_delays_no_other(database: Database) -> None:
    work = Work(database)
    async with program(database, work) as chats:
        await chats.keep([came(number, 1) for number in range(1, 61)] + [came(100, 2)])
        await work.until(61)
    assert work.done.index(100) <= 2
    assert [number for number in work.done if number < 100] == list(range(1, 61))


async def test_the_first_of_many_are_done_before_the_last_are_begun(database: Database) -> None:
    work = Work(database)
    async with program(database, work) as chats:
        await chats.keep([came(number, number) for number in range(1, 101)])
        await work.until(100)
    assert work.most <= QUICK_AT_ONCE
    assert max(abs(at - number) for at, number in enumerate(work.done, 1)) < QUICK_AT_ONCE


async def test_nothing_typed_waits_behind_sound(database: Database) -> None:
    work = Work(database)
    async with program(database, work) as chats:
        await chats.keep([came(number, number, slow=True) for number in range(1, 201)] + [came(1000, 1000)])
        await work.until(1)
    assert work.done == [1000]


async def test_two_programs_share_the_work_and_each_chat_keeps_its_order(database: Database) -> None:
    first, second = Work(database), Work(database)
    Inbox(database).put([came(number, number % 30) for number in range(1, 301)])
    async with program(database, first), program(database, second):
        async with asyncio.timeout(60):
            while len(first.done) + len(second.done) < 300:
                await asyncio.sleep(0.01)
    assert sorted(first.done + second.done) == list(range(1, 301))
    assert Inbox(database).waiting() == ()
    for done in (first.done, second.done):
        for chat in range(30):
            mine = [number for number in done if number % 30 == chat]
            assert mine == sorted(mine)


async def test_what_a_dead_worker_of_this_computer_had_in_hand_is_taken_over(database: Database) -> None:
    gone = dead_worker()
    inbox, work = Inbox(database), Work(database)
    inbox.put([came(1, 1)])
    assert len(inbox.take(gone, datetime.now(UTC), LEASE, False, 10)) == 1
    me = worker_name()
    assert inbox.take(me, datetime.now(UTC), LEASE, False, 10) == ()
    Leases(database, me).free_the_dead()
    async with program(database, work):
        await work.until(1)


async def test_a_program_does_the_kinds_of_work_that_it_is_for(database: Database) -> None:
    work = Work(database)
    Inbox(database).put([came(1, 1, slow=True), came(2, 2)])
    chats = Chats(work.take, Inbox(database), asyncio.to_thread, worker_name(), quick=True, slow=False)
    chats.ready.set()
    running = asyncio.create_task(chats.run())
    await work.until(1)
    running.cancel()
    await chats.stop()
    assert [one.update_id for one in Inbox(database).waiting()] == [1]


def test_kinds_of_work_are_named_with_commas_between() -> None:
    assert work_kinds("hear, send") == {WorkKind.HEAR, WorkKind.SEND}
    assert work_kinds(",".join(WorkKind)) == EVERY_KIND
    for wrong in ("", "hear,listen"):
        with pytest.raises(InputError, match="hear, turn, send, remind"):
            work_kinds(wrong)
