"""What is known of the voice in a chat: asked about, added to by corrections, shown and forgotten there."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from bot.settings import Settings
from bot.telegram.services import lessons
from bot.telegram.worker import EngineWorker
from bot.voice.profiles import Profiles
from bot.voice.texts import VoiceTexts
from engine.assistant import Assistant
from engine.database import open_database
from engine.errors import DefinitionError
from engine.history.store.journal import Journal
from engine.messages import HeardWord
from engine.voice_profile import ConfusionSource
from speech.audio import encode_opus
from tests.helpers.chat_bot import started
from tests.helpers.telegram_server import Person, TelegramServer
from tests.helpers.turns import utterance
from tests.helpers.voices import by_espeak, needs_espeak


async def ask(person: Person, text: str) -> str:
    person.says(text)
    return (await person.receives()).text


@pytest.mark.usefixtures("running")
async def test_a_chat_shows_what_it_knows_of_a_voice_and_forgets_it(server: TelegramServer, settings: Settings) -> None:
    person = server.user(401)
    assert "no word of yours" in await ask(person, "know my voice")
    person.presses("Read me the words")
    assert "Say: one." in (await person.receives()).text
    profiles = Profiles(settings.voice_profiles)
    profiles.add("telegram 401", "en", [("eight", "six")], ConfusionSource.READ)
    profiles.add("telegram 402", "en", [("two", "three")], ConfusionSource.READ)
    assert "your eight that sounds like six" in await ask(person, "/voice")
    person.presses("Forget my voice")
    assert "nothing of your voice" in (await person.receives()).text
    assert [one.person for one in profiles.all()] == ["telegram 402"]


@pytest.mark.usefixtures("running")
async def test_who_is_forgotten_takes_the_voice_along(server: TelegramServer, settings: Settings) -> None:
    person = server.user(403)
    profiles = Profiles(settings.voice_profiles)
    for language in ("en", "es"):
        profiles.add("telegram 403", language, [("uno", "dos")], ConfusionSource.READ)
    await ask(person, "forget me")
    person.presses("Yes, forget me")
    assert "forgotten here" in (await person.receives()).text
    assert profiles.all() == ()


async def test_a_damaged_profile_stops_the_start_in_a_sentence(settings: Settings) -> None:
    settings.voice_profiles.mkdir()
    (settings.voice_profiles / "telegram_404.en.yaml").write_text("format: 7")
    with pytest.raises(DefinitionError, match=r"telegram_404\.en\.yaml"):
        async with started(settings):
            pass


async def test_what_is_said_in_a_chat_is_held_against_the_voice_of_who_spoke(tmp_path: Path) -> None:
    database, profiles = open_database(str(tmp_path / "a.db")), Profiles(tmp_path / "profiles")
    engine = EngineWorker(Assistant(database), Journal(database), profiles)
    profiles.add("telegram 1", "en", [("six", "eight")], ConfusionSource.READ)
    try:
        for number, (speaker, kept) in enumerate((("telegram:2", True), ("telegram:1", False))):
            talk = f"talk:{number}"
            await engine.hear(utterance(f"{number}-a", "set up").model_copy(update={"conversation": talk}), (speaker,))
            said = utterance(f"{number}-b", "eight").model_copy(
                update={"conversation": talk, "spoken": True, "words": (HeardWord(text="eight", confidence=1.0),)}
            )
            turn = await engine.hear(said, (speaker, "telegram:9"))
            assert ("kept" in {fact["kind"] for fact in turn.facts}) is kept
    finally:
        engine.close()


def said(text: str) -> bytes:
    return encode_opus(by_espeak("en").speak(text))


@needs_espeak
async def test_a_lesson_is_read_in_voice_notes_and_what_is_mixed_up_is_asked_from_then_on(
    server: TelegramServer, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(VoiceTexts, "read", lambda *_: ("one", "fifteen", "row"))
    person = server.user(405)
    async with started(settings):
        assert (await ask(person, "learn my voice")).endswith("Say: one.")
        person.sends_voice(said("one"))
        assert (await person.receives()).text == "Say: fifteen."
        person.sends_voice(said("row"))
        assert (await person.receives()).text == "Say: row."
    async with started(settings):
        person.sends_voice(said("row"))
        told = (await person.receives()).text
    assert "Your fifteen can sound like row." in told
    assert [(one.said, one.heard) for one in Profiles(settings.voice_profiles).of("telegram 405", "en").pairs] == [
        ("fifteen", "row")
    ]


@needs_espeak
async def test_a_lesson_ends_where_something_else_was_said(server: TelegramServer, settings: Settings) -> None:
    person = server.user(406)
    async with started(settings):
        await ask(person, "learn my voice")
        assert "eight" not in await ask(person, "set up")
        person.sends_voice(said("eight"))
        assert "8" in (await person.receives()).text
    assert Profiles(settings.voice_profiles).all() == ()


async def test_what_was_to_be_read_long_ago_is_no_reading(
    server: TelegramServer, settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lessons, "LAPSES", timedelta())
    person = server.user(407)
    async with started(settings):
        await ask(person, "learn my voice")
        person.sends_voice(b"no sound", duration=1)
        assert "Say:" not in (await person.receives()).text
