"""Who speaks is answered aloud as well: after the text, and never instead of it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import pytest
from sqlalchemy import text

from bot import wiring
from bot.settings import Settings
from demo.recording import FOLDER
from engine.database import Database
from engine.queues.outbox import DeliveryState, Outbox, Outgoing, put
from engine.queues.outbox_message import VoiceNoteMessage
from speech.audio import decode
from speech.errors import VoiceBroken
from tests.helpers.chat_bot import settings_for, started
from tests.helpers.telegram_server import Person, TelegramServer
from tests.helpers.telegram_server.fault import Cut, Refused
from tests.helpers.telegram_server.refusal import too_many
from tests.helpers.tone import Tone

NOTE = (FOLDER / "yes.ogg").read_bytes()


@pytest.fixture
def settings(server: TelegramServer, place: object) -> Settings:
    return settings_for(server, place, recognizer="pocketsphinx")  # type: ignore[arg-type]


@pytest.fixture
def tone(monkeypatch: pytest.MonkeyPatch) -> Iterator[Tone]:
    voice = Tone()
    monkeypatch.setattr(wiring, "voice", lambda settings, language: voice)
    yield voice


async def test_a_voice_note_gets_text_then_voice_and_typing_gets_text_alone(
    server: TelegramServer, settings: Settings, tone: Tone
) -> None:
    person = server.user(301)
    async with started(settings):
        person.says("help")
        assert (await person.receives()).method == "sendMessage"
        person.sends_voice(NOTE)
        text, voice = await person.receives(), await person.receives()
        person.says("help")
        after = await person.receives()
    assert (text.method, voice.method, after.method) == ("sendMessage", "sendVoice", "sendMessage")
    assert voice.silent and not text.silent
    assert voice.file is not None
    assert decode(voice.file).duration_s == pytest.approx(0.1 * len(tone.said[0].split()), abs=0.05)
    assert len(tone.said) == 1
    call = next(call for call in server.calls if call.method == "sendVoice")
    assert int(call.get("duration")) == max(1, round(decode(voice.file).duration_s))
    assert "rowhand.ogg" in [upload.name for upload in call.uploads.values()]


def cannot() -> None:
    raise VoiceBroken("tone", "no breath")


def _wait(over: threading.Event) -> None:
    over.wait()


@pytest.fixture
def never() -> Iterator[Callable[[], None]]:
    """Does not come to an end as long as the test runs."""
    over = threading.Event()
    yield lambda: _wait(over)
    over.set()


@pytest.mark.parametrize("slow", [False, True], ids=["broken", "slow"])
async def test_a_voice_that_fails_costs_no_text(
    server: TelegramServer,
    settings: Settings,
    tone: Tone,
    slow: bool,
    never: Callable[[], None],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("bot.telegram.worker.PATIENCE_S", 0.2)
    tone.trouble = never if slow else cannot
    person = server.user(302)
    async with started(settings):
        person.sends_voice(b"RIFF, not a recording" * 20, duration=1)
        assert "cannot read" in (await person.receives()).text
        person.says("help")
        await person.receives()
    assert [one.method for one in person.received] == ["sendMessage"] * 2
    assert len(tone.said) == 1


@pytest.mark.parametrize("fault", [Refused(too_many(3)), Cut()], ids=["too many requests", "cut"])
async def test_a_voice_note_that_is_refused_is_given_up(
    server: TelegramServer, settings: Settings, tone: Tone, fault: Refused | Cut, database: Database
) -> None:
    server.faults.plan("sendVoice", fault)
    person = server.user(303)
    async with started(settings):
        person.sends_voice(b"RIFF, not a recording" * 20, duration=1)
        await person.receives()
        person.says("help")
        await person.receives()
    assert [one.method for one in person.received] == ["sendMessage"] * 2
    with database.read() as connection:
        key = connection.execute(text("SELECT key FROM outbox WHERE key LIKE 'voice:%'")).scalar_one()
    kept = Outbox(database).find(key)
    assert kept is not None and kept.state is DeliveryState.FAILED


async def test_only_the_last_of_several_voices_is_spoken(
    server: TelegramServer, settings: Settings, tone: Tone, database: Database
) -> None:
    person: Person = server.user(304)
    person.chat.open = True
    now = datetime.now(UTC)
    with database.begin() as connection:
        notes = [VoiceNoteMessage(said=f"answer {n}", language="en") for n in range(3)]
        put(connection, [Outgoing(f"v{n}", "telegram:304", note, now) for n, note in enumerate(notes)])
    async with started(settings):
        await person.receives()
        person.says("help")
        await person.receives()
    assert tone.said == ["answer 2"]
