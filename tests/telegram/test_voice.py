"""Voice notes: real Opus through the real recogniser, and notes that cannot be heard."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from bot.settings import Settings
from demo.recording import FOLDER
from engine.assistant import Assistant
from engine.database import Database
from engine.history.store.journal import Journal
from engine.messages import Utterance
from tests.helpers.chat_bot import settings_for, started
from tests.helpers.chat_crash import SAID
from tests.helpers.telegram_server import Person, TelegramServer
from tests.helpers.telegram_server.fault import Cut, Half


def note(name: str) -> bytes:
    return (FOLDER / f"{name}.ogg").read_bytes()


@pytest.fixture
def settings(server: TelegramServer, place: Path) -> Settings:
    return settings_for(server, place, recognizer="pocketsphinx", voice_seconds=20, voice_bytes=100_000)


@pytest.fixture
def person(server: TelegramServer, database: Database) -> Person:
    """Somebody who has set up the planter already, by typing."""
    assistant = Assistant(database)
    for number, text in enumerate(SAID[:15]):
        place = {"id": f"before:{number}", "conversation": "telegram:70", "said_at": datetime.now(UTC)}
        assistant.hear(Utterance(text=text, language="en", **place))  # type: ignore[arg-type]
    return server.user(70)


async def test_a_test_run_by_voice_while_others_type(
    server: TelegramServer, person: Person, settings: Settings, database: Database
) -> None:
    async with started(settings):
        person.sends_voice(note("test-run"))
        typing = server.user(71)
        typing.says("help")
        await typing.receives()
        assert person.received == []
        assert "row" in (await person.receives()).text.lower()
        person.says("row one twelve, row two twelve, row three twelve, row four twelve")
        await person.receives()
        server.faults.plan("download", Half())
        server.faults.plan("download", Cut())
        person.sends_voice(note("course-time"))
        person.says("status")
        assert "41" in (await person.receives()).text
        await person.receives()
    heard = [(turn.heard, turn.spoken) for turn in Journal(database).turns("telegram:70")[15:]]
    assert heard[0] == ("test run", True)
    assert [(words.split()[:2], spoken) for words, spoken in heard[2:]] == [
        (["forty", "one"], True),
        (["status"], False),
    ]


async def test_what_cannot_be_heard_gets_one_clear_sentence(
    server: TelegramServer, person: Person, settings: Settings, database: Database
) -> None:
    sound = note("yes")
    cases = {
        "longer than 20 seconds": (sound, 21),
        "too large": (b"OggS" + bytes(100_000), 1),
        "cannot read": (b"RIFF, not a recording" * 20, 1),
        "end": (sound[: len(sound) // 2], 1),
    }
    async with started(settings):
        for said, (content, seconds) in cases.items():
            before = len([call for call in server.calls if call.method == "getFile"])
            person.sends_voice(content, duration=seconds)
            assert said in (await person.receives()).text
            fetched = len([call for call in server.calls if call.method == "getFile"]) - before
            assert fetched == (0 if said in ("longer than 20 seconds", "too large") else 1)
    assert len(Journal(database).turns("telegram:70")) == 15
