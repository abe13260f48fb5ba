"""What waits at the same time is kept at the same time, and nobody hears of it before."""

from __future__ import annotations

import asyncio
import contextlib
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from sqlalchemy import Connection, event, insert, select
from sqlalchemy.exc import IntegrityError

from bot.record_thread import RecordThread, SharedCommits
from engine.database import Database, open_database
from engine.errors import DatabaseError
from engine.history.store.tables import gone
from tests.helpers.record import files_only, where

NOW = datetime(2027, 4, 21, 12, tzinfo=UTC)


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    opened = open_database(where(tmp_path / "record.db"))
    yield opened
    opened.close()


def add(database: Database, name: str) -> str:
    with database.begin() as connection:
        connection.execute(insert(gone).values(conversation=name, since=NOW))
    return name


def kept(database: Database) -> set[str]:
    with database.read() as connection:
        return set(connection.execute(select(gone.c.conversation)).scalars())


async def held(thread: RecordThread, *works: Callable[[], str]) -> list[object]:
    """What came of works that all waited while the thread was busy."""
    free = threading.Event()
    first = asyncio.create_task(thread.do(lambda: free.wait(60)))
    await asyncio.sleep(0.05)
    tasks = [asyncio.create_task(thread.do(work)) for work in works]
    await asyncio.sleep(0.05)
    free.set()
    await first
    return await asyncio.gather(*tasks, return_exceptions=True)


@files_only
async def test_what_waits_is_kept_in_one_commit(database: Database) -> None:
    commits = list[Connection]()
    event.listen(database.engine, "commit", commits.append)
    thread = RecordThread(SharedCommits(database, lambda: None))
    assert await held(thread, *(lambda name=name: add(database, name) for name in "abcde")) == list("abcde")
    thread.close()
    assert kept(database) == set("abcde")
    assert len(commits) <= 3  # what kept the thread busy, what waited, and the look here


async def test_a_piece_that_raises_is_undone_alone(database: Database) -> None:
    add(database, "a")
    thread = RecordThread(SharedCommits(database, lambda: None))
    found = await held(thread, lambda: add(database, "b"), lambda: add(database, "a"), lambda: add(database, "c"))
    thread.close()
    assert (found[0], found[2]) == ("b", "c")
    assert isinstance(found[1], IntegrityError)
    assert kept(database) == {"a", "b", "c"}


async def test_where_the_database_fails_only_the_one_that_cannot_be_done_hears_of_it(database: Database) -> None:
    undone = list[int]()

    def broken() -> str:
        with database.begin() as connection:
            connection.execute(insert(gone).values(conversation="half", since=NOW))
            connection.exec_driver_sql("INSERT INTO nowhere VALUES (1)")
        return "never"

    thread = RecordThread(SharedCommits(database, lambda: undone.append(1)))
    found = await held(thread, lambda: add(database, "b"), broken, lambda: add(database, "c"))
    thread.close()
    assert (found[0], found[2]) == ("b", "c")
    assert isinstance(found[1], DatabaseError)
    assert kept(database) == {"b", "c"}
    assert undone


async def test_nobody_hears_of_what_could_not_be_kept(database: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: object) -> None:
        raise DatabaseError("the disk is full")

    thread = RecordThread(SharedCommits(database, lambda: None))
    await thread.do(lambda: add(database, "before"))
    event.listen(database.engine, "commit", full)
    with pytest.raises(DatabaseError, match="the disk is full"):
        await thread.do(lambda: add(database, "a"))
    event.remove(database.engine, "commit", full)
    assert await thread.do(lambda: add(database, "b")) == "b"
    thread.close()
    assert kept(database) == {"before", "b"}


async def test_a_record_that_cannot_be_begun_on_is_told_to_all_who_wait(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    thread = RecordThread(SharedCommits(database, lambda: None))
    await thread.do(lambda: "warm")

    def locked(_: object) -> None:
        raise DatabaseError("in use by another program")

    monkeypatch.setattr(Database, "together", locked)
    with pytest.raises(DatabaseError, match="in use"):
        await thread.do(lambda: add(database, "a"))
    monkeypatch.undo()
    assert await thread.do(lambda: add(database, "b")) == "b"
    thread.close()


async def test_what_leaves_goes_before_what_came(database: Database) -> None:
    order, free = list[str](), threading.Event()
    thread = RecordThread(SharedCommits(database, lambda: None))
    first = asyncio.create_task(thread.do(lambda: free.wait(60)))
    await asyncio.sleep(0.05)
    tasks = [asyncio.create_task(thread.do(lambda name=name: order.append(name))) for name in ("in 1", "in 2")]
    tasks.append(asyncio.create_task(thread.first(lambda: order.append("out"))))
    await asyncio.sleep(0.05)
    free.set()
    await asyncio.gather(first, *tasks)
    thread.close()
    assert order == ["out", "in 1", "in 2"]


async def test_what_is_kept_at_once_is_on_the_disk_before_the_next_is_begun(database: Database) -> None:
    """Another program, which sees only what is on the disk, looks for what left at once and what came with it."""
    seen, free = list[set[str]](), threading.Event()
    beside = open_database(database.engine.url.render_as_string(hide_password=False))
    thread = RecordThread(SharedCommits(database, lambda: None))
    first = asyncio.create_task(thread.do(lambda: free.wait(60)))
    await asyncio.sleep(0.05)
    tasks = [
        asyncio.create_task(thread.do(lambda: seen.append(kept(beside)))),
        asyncio.create_task(thread.at_once(lambda: add(database, "left"))),
    ]
    await asyncio.sleep(0.05)
    free.set()
    await asyncio.gather(first, *tasks)
    thread.close()
    beside.close()
    assert seen == [{"left"}]


async def test_work_that_remembers_what_it_did_keeps_it_in_a_transaction_of_its_own(database: Database) -> None:
    moments, free = list[object | None](), threading.Event()
    thread = RecordThread(SharedCommits(database, lambda: None))
    first = asyncio.create_task(thread.do(lambda: free.wait(60)))
    await asyncio.sleep(0.05)
    tasks = [
        asyncio.create_task(thread.do(lambda: add(database, "a"))),
        asyncio.create_task(thread.alone(lambda: moments.append(database.moment))),
        asyncio.create_task(thread.do(lambda: add(database, "b"))),
    ]
    await asyncio.sleep(0.05)
    free.set()
    await asyncio.gather(first, *tasks)
    thread.close()
    assert moments == [None]
    assert kept(database) == {"a", "b"}


async def test_without_shared_commits_each_piece_keeps_its_own(database: Database) -> None:
    thread = RecordThread()
    assert await thread.do(lambda: database.moment) is None
    found = await held(thread, lambda: add(database, "a"), lambda: add(database, "a"), lambda: add(database, "b"))
    thread.close()
    assert isinstance(found[1], IntegrityError)
    assert kept(database) == {"a", "b"}


async def test_what_waits_at_the_end_is_told_so(database: Database) -> None:
    free = threading.Event()
    thread = RecordThread(SharedCommits(database, lambda: None))
    begun = asyncio.create_task(thread.do(lambda: free.wait(60)))
    await asyncio.sleep(0.05)
    waits = asyncio.create_task(thread.do(lambda: add(database, "never")))
    await asyncio.sleep(0.05)
    ends = asyncio.create_task(asyncio.to_thread(thread.close))
    await asyncio.sleep(0.05)
    free.set()
    await ends
    assert await begun
    with pytest.raises(asyncio.CancelledError):
        await waits
    with pytest.raises(asyncio.CancelledError):
        await thread.do(lambda: add(database, "never"))
    assert kept(database) == set()


@files_only
async def test_after_a_failure_nothing_more_of_a_batch_is_written(database: Database) -> None:
    def rolled_back() -> None:
        with database.begin() as connection:
            connection.exec_driver_sql("ROLLBACK")  # as SQLite does by itself where the disk is full
            connection.exec_driver_sql("INSERT INTO nowhere VALUES (1)")

    def both() -> str:
        with contextlib.suppress(DatabaseError):
            rolled_back()
        return add(database, "never")

    thread = RecordThread(SharedCommits(database, lambda: None))
    with pytest.raises(DatabaseError, match="not kept"):
        await thread.do(both)
    thread.close()
    assert kept(database) == set()


@files_only
async def test_another_program_gets_its_turn_beside_one_that_has_much_to_write(tmp_path: Path) -> None:
    """Each batch holds the file for some 50 ms, and there are fifteen seconds of them."""
    busy, other = (open_database(tmp_path / "record.db") for _ in range(2))
    thread, done = RecordThread(SharedCommits(busy, lambda: None)), list[str]()

    def work(name: str) -> None:
        done.append(add(busy, name))
        time.sleep(0.01)

    tasks = [asyncio.create_task(thread.do(work, f"busy {number}")) for number in range(1500)]
    while not done:
        await asyncio.sleep(0.01)
    for number in range(8):
        await asyncio.to_thread(add, other, f"other {number}")
        await asyncio.sleep(0.05)
    assert len(done) < 500
    for task in tasks:
        task.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    thread.close()
    busy.close()
    other.close()
