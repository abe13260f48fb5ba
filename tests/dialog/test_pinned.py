"""A conversation under way when its dialog file changes, disappears or can no longer be read."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bot.settings import load_settings
from bot.wiring import rules
from engine.assistant import Assistant
from engine.conversation_defaults import ConversationDefaults
from engine.data.definitions import dialogs_directory
from engine.data.texts import Text
from engine.database import Database, open_database
from engine.dialog.reply.system_texts import SystemTexts
from engine.dialog.script_library import whole
from engine.emergency_numbers import NUMBERS
from engine.history.store.journal import StoredTurn
from engine.library import Library, load_library
from engine.messages import Utterance
from tests.helpers.renaming import DIALOGS
from tests.helpers.talking import START, beginnings, library


@pytest.fixture
def database(tmp_path: Path) -> Database:
    return open_database(str(tmp_path / "a.db"))


def dialogs(folder: Path, changes: dict[str, tuple[str, str]], without: str = "") -> Library:
    """The dialogs of the package with a piece of some replaced, or one left out with those that rest on it."""
    folder.mkdir()
    for path in (dialogs_directory() / f"{name}.yaml" for name in DIALOGS):
        text = whole(path).source
        if path.stem in changes:
            old, new = changes[path.stem]
            assert text.count(old) == 1
            text = text.replace(old, new)
        if path.stem != without and not (without and path.stem in ("shift", "put-away")):
            (folder / path.name).write_text(text, encoding="utf-8")
    return load_library(folder)


def say(assistant: Assistant, name: str, *texts: str, conversation: str = "c") -> StoredTurn:
    turns = [
        assistant.hear(
            Utterance(id=f"{name}{number}", conversation=conversation, text=text, language="en", said_at=START)
        )
        for number, text in enumerate(texts)
    ]
    return turns[-1]


def test_a_conversation_goes_on_under_the_file_it_began_with(database: Database, tmp_path: Path) -> None:
    say(Assistant(database, library=library()), "a", "set up", "eight")
    changed = dialogs(tmp_path / "new", {"set-up": ('"How is the meter dial marked?"', '"Which marks has the dial?"')})
    later = Assistant(database, library=changed)
    assert say(later, "b", "thirty inches").reply.text.endswith("How is the meter dial marked?")
    assert say(later, "c", "set up", "eight", "thirty inches", conversation="d").reply.text.endswith(
        "Which marks has the dial?"
    )
    again = Assistant(database, library=changed)
    assert again.prompt("c").text == "How is the meter dial marked?"
    assert again.prompt("d").text == "Which marks has the dial?"


def test_a_conversation_goes_on_when_its_file_is_gone(database: Database, tmp_path: Path) -> None:
    start = Assistant(database, library=library())
    say(start, "a", *beginnings()["prepared"], *beginnings()["catching"])
    later = Assistant(database, library=dialogs(tmp_path / "new", {}, without="test-run"))
    assert say(later, "b", "row one eighty").reply.text.endswith("Row 2?")
    assert "Leave Test run?" in say(later, "c", "cancel").reply.text
    assert "Test run left." in say(later, "d", "yes").reply.text
    assert say(later, "e", "help").reply.text


def test_a_dialog_whose_record_cannot_be_read_is_left_with_a_word(database: Database, tmp_path: Path) -> None:
    say(Assistant(database, library=library()), "a", "set up", "eight")
    with database.begin() as connection:
        connection.exec_driver_sql("DROP TRIGGER IF EXISTS script_kept")
        triggers = connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'trigger'").scalars()
        for trigger in list(triggers):
            connection.exec_driver_sql(f"DROP TRIGGER {trigger}")
        connection.exec_driver_sql("UPDATE script SET source = 'dialog: nothing'")
    changed = dialogs(tmp_path / "new", {"set-up": ('"How is the meter dial marked?"', '"Which marks has the dial?"')})
    later = Assistant(database, library=changed)
    assert later.prompt("c").text == ""
    turn = say(later, "b", "thirty inches")
    assert turn.reply.text.startswith("This dialog can no longer be continued")
    assert [fact["kind"] for fact in turn.facts] == ["cancelled"]
    assert say(later, "c", "set up").reply.text.endswith("How many rows?")


def test_settings_give_the_language_and_the_telephone_numbers(database: Database) -> None:
    spoken = ConversationDefaults(language="es", numbers={"emergency": "112", "poison": "22", "spill": "33"})
    text = say(Assistant(database, spoken, library()), "a", "emergencia").reply.text
    assert all(number in text for number in ("112", "22", "33"))
    assert text.startswith("Alguien grave")


def test_an_emergency_is_answered_without_any_settings(database: Database) -> None:
    assert "911" in say(Assistant(database, library=library()), "a", "emergency").reply.text
    assert load_settings().emergency_number == NUMBERS["emergency"]
    assert rules(load_settings()).numbers == NUMBERS


def test_the_apology_needs_no_record(database: Database) -> None:
    assistant = Assistant(database, ConversationDefaults(language="es"), library())
    database.close()
    assert json.loads(assistant.apology("c").model_dump_json())["text"].startswith("No pude anotarlo")


def test_a_house_that_lacks_a_text_is_refused() -> None:
    texts = dict(SystemTexts.load().texts)
    texts.popitem()
    with pytest.raises(ValueError, match="is missing"):
        SystemTexts(format="1", texts=texts)


def test_a_text_says_the_same_in_both_languages() -> None:
    with pytest.raises(ValueError, match="one language only"):
        Text({"en": "{row} is open", "es": "queda abierto"})
