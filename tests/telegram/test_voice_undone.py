"""What a correction shows of a voice is counted once, and only of a turn that is on the disk."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from sqlalchemy import event

from bot import record_thread
from bot.telegram.worker import EngineWorker
from bot.voice.profiles import Profiles
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.errors import DatabaseError, WorldError
from engine.history.store.journal import Journal
from engine.messages import HeardWord, Utterance
from tests.helpers.record import files_only
from tests.helpers.talking import beginnings
from tests.helpers.turns import utterance

pytestmark = files_only
CHAT, PERSON = "telegram:1", "telegram 1"
WRONG, MEANT = "row one eighty six", "correction row one eighty eight"


@dataclass
class Cab:
    """A chat in which a row is waited for, and what is known of the voice in it."""

    database: Database
    engine: EngineWorker
    profiles: Profiles

    @property
    def counted(self) -> list[int]:
        return [one.corrected for one in self.profiles.of(PERSON, "en").pairs]

    async def hear(self, name: str, text: str) -> None:
        await self.engine.hear(utterance(name, text, CHAT), (CHAT,))

    async def beside(self, broken: Callable[[], None]) -> list[object]:
        """The correction waits for the thread together with work at which the database fails."""
        free = threading.Event()
        first = asyncio.create_task(self.engine.do(lambda: free.wait(60)))
        await asyncio.sleep(0.05)
        tasks = [asyncio.create_task(self.hear("meant", MEANT)), asyncio.create_task(self.engine.do(broken))]
        await asyncio.sleep(0.05)
        free.set()
        await first
        return await asyncio.gather(*tasks, return_exceptions=True)


def spoken(name: str, text: str) -> Utterance:
    words = tuple(HeardWord(text=word, confidence=1.0) for word in text.split())
    return utterance(name, text, CHAT).model_copy(update={"spoken": True, "words": words})


@pytest.fixture
async def cab(tmp_path: Path) -> AsyncIterator[Cab]:
    database, profiles = open_database(tmp_path / "record.db"), Profiles(tmp_path / "profiles")
    found = Cab(database, EngineWorker(Assistant(database), Journal(database), profiles), profiles)
    for number, line in enumerate((*beginnings()["prepared"], "test run", "all at twelve")):
        await found.hear(f"u{number}", line)
    await found.engine.hear(spoken("wrong", WRONG), (CHAT,))
    yield found
    found.engine.close()
    database.close()


async def test_what_is_undone_with_others_and_done_again_is_counted_once(
    cab: Cab, monkeypatch: pytest.MonkeyPatch
) -> None:
    undone = list[bool]()

    def broken() -> None:
        undone.append(Journal(cab.database).turn("meant") is not None)
        with cab.database.begin() as connection:
            connection.exec_driver_sql("INSERT INTO nowhere VALUES (1)")

    monkeypatch.setattr(record_thread, "LONGEST_S", 60.0)
    heard, other = await cab.beside(broken)
    assert undone == [True, True], "first together with the correction, then alone"
    assert heard is None
    assert isinstance(other, DatabaseError)
    assert Journal(cab.database).turn("meant") is not None
    assert cab.counted == [1]


async def test_what_could_not_be_kept_shows_nothing_until_it_is_said_again(cab: Cab) -> None:
    def full(_: object) -> None:
        raise DatabaseError("the disk is full")

    event.listen(cab.database.engine, "commit", full)
    with pytest.raises(WorldError):
        await cab.hear("meant", MEANT)
    event.remove(cab.database.engine, "commit", full)
    assert Journal(cab.database).turn("meant") is None
    assert cab.counted == []
    await cab.hear("said again", MEANT)
    assert cab.counted == [1]


async def test_an_update_that_comes_again_is_counted_once(cab: Cab) -> None:
    for _ in range(2):
        await cab.hear("meant", MEANT)
    assert cab.counted == [1]
