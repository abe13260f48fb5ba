"""What fails costs a wait or a sentence: what was typed is always answered in the end, and nothing said is lost."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from sqlalchemy import Engine, event

from bot.hearing import FailedHearing, HearingPool
from bot.settings import Settings
from bot.telegram.texts import ChatKey, ChatTexts
from engine.history.store.journal import Journal
from speech.errors import AudioFault
from tests.helpers.chat_bot import settings_for, started
from tests.helpers.process import ROOT
from tests.helpers.record import files_only, where
from tests.helpers.telegram_server import TelegramServer

SOUND = (ROOT / "demo/voice/done.ogg").read_bytes()


@contextmanager
def failing(statement: str, says: str) -> Iterator[list[str]]:
    """The database fails at every such statement; gives those at which it did."""
    tried = list[str]()

    def fail(_connection: object, _cursor: object, text: str, *_: object) -> None:
        if text.startswith(statement):
            tried.append(text)
            raise sqlite3.OperationalError(says)

    event.listen(Engine, "before_cursor_execute", fail)
    try:
        yield tried
    finally:
        event.remove(Engine, "before_cursor_execute", fail)


async def until(what: list[str]) -> None:
    async with asyncio.timeout(60):
        while not what:
            await asyncio.sleep(0.02)


@files_only
@pytest.mark.parametrize(
    ("statement", "says"),
    [
        ("INSERT INTO turn", "database or disk is full"),
        ("INSERT INTO inbox", "database or disk is full"),
        ("BEGIN IMMEDIATE", "database is locked"),
        ("UPDATE outbox", "disk I/O error"),
    ],
)
async def test_a_database_that_fails_is_waited_for(
    server: TelegramServer, settings: Settings, place: Path, statement: str, says: str
) -> None:
    person, other = server.user(501), server.user(502)
    async with started(settings):
        person.says("set up")
        await person.receives()
        with failing(statement, says) as tried:
            person.says("four")
            other.says("help")
            await until(tried)
            await asyncio.sleep(0.1)
        assert "How far apart" in (await person.receives()).text
        assert (await other.receives()).text
    from engine.database import open_database

    database = open_database(where(place))
    assert [turn.heard for turn in Journal(database).turns("telegram:501")] == ["set up", "four"]
    database.close()
    assert [one.text for one in person.received] == list(dict.fromkeys(one.text for one in person.received))


@files_only
async def test_a_record_that_is_moved_away_and_put_back_loses_nothing(
    server: TelegramServer, settings: Settings, place: Path, tmp_path: Path
) -> None:
    person = server.user(503)
    async with started(settings):
        person.says("set up")
        await person.receives()
        files = [file for file in tmp_path.iterdir() if file.name.startswith(place.name)]
        for file in files:
            file.rename(tmp_path / f"away-{file.name}")
        person.says("four")
        await asyncio.sleep(0.5)
        assert len(person.received) == 1
        for file in files:
            (tmp_path / f"away-{file.name}").rename(file)
        assert "How far apart" in (await person.receives()).text


@pytest.mark.parametrize(
    ("fault", "why"), [(None, ChatKey.VOICE_NO_EARS), (AudioFault.UNREADABLE, ChatKey.VOICE_UNREADABLE)]
)
async def test_deaf_it_says_so_and_what_is_typed_goes_on(
    server: TelegramServer,
    settings: Settings,
    monkeypatch: pytest.MonkeyPatch,
    fault: AudioFault | None,
    why: ChatKey,
) -> None:
    """No model, or one that ends each process that hears."""

    async def deaf(*_: object) -> FailedHearing:
        return FailedHearing(fault)

    monkeypatch.setattr(HearingPool, "hear", deaf)
    person = server.user(504)
    async with started(settings):
        person.says("set up")
        await person.receives()
        person.sends_voice(SOUND)
        assert (await person.receives()).text == ChatTexts.load().message(why, "en").text
        person.says("four")
        assert "How far apart" in (await person.receives()).text


async def test_while_hearing_hangs_what_others_type_is_answered(
    server: TelegramServer, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def never(*_: object) -> FailedHearing:
        await asyncio.Event().wait()
        raise AssertionError

    monkeypatch.setattr(HearingPool, "hear", never)
    async with started(settings_for(server, place)):
        for chat in range(505, 535):
            server.user(chat).sends_voice(SOUND)
        await asyncio.sleep(0.3)
        server.user(600).says("set up")
        assert "How many rows" in (await server.user(600).receives()).text
