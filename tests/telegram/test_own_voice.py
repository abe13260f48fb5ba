"""What is known of the voice in a chat: asked about, added to by corrections, shown and forgotten there."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot.settings import Settings
from bot.telegram.worker import EngineWorker
from bot.voice.profiles import Profiles
from engine.assistant import Assistant
from engine.database import open_database
from engine.errors import DefinitionError
from engine.history.store.journal import Journal
from engine.messages import HeardWord
from engine.voice_profile import ConfusionSource
from tests.helpers.chat_bot import started
from tests.helpers.telegram_server import Person, TelegramServer
from tests.helpers.turns import utterance


async def ask(person: Person, text: str) -> str:
    person.says(text)
    return (await person.receives()).text


@pytest.mark.usefixtures("running")
async def test_a_chat_shows_what_it_knows_of_a_voice_and_forgets_it(server: TelegramServer, settings: Settings) -> None:
    person = server.user(401)
    told = await ask(person, "learn my voice")
    assert "no word of yours" in told
    assert 'rowhand voice learn --person "telegram 401"' in told
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
    mind = EngineWorker(Assistant(database), Journal(database), profiles)
    profiles.add("telegram 1", "en", [("six", "eight")], ConfusionSource.READ)
    try:
        for number, (speaker, kept) in enumerate((("telegram:2", True), ("telegram:1", False))):
            talk = f"talk:{number}"
            await mind.hear(utterance(f"{number}-a", "set up").model_copy(update={"conversation": talk}), (speaker,))
            said = utterance(f"{number}-b", "eight").model_copy(
                update={"conversation": talk, "spoken": True, "words": (HeardWord(text="eight", confidence=1.0),)}
            )
            turn = await mind.hear(said, (speaker, "telegram:9"))
            assert ("kept" in {fact["kind"] for fact in turn.facts}) is kept
    finally:
        mind.close()
