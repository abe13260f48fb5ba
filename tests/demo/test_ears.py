"""Every note under what the dialog expects there, by each engine that is here: never a wrong value kept unasked."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from bot.hear import utterance
from demo.evening import load, place, shown
from demo.play import FOLDER
from engine.assistant import Assistant
from engine.database import open_database
from engine.entries.grammar import grammar
from engine.entries.reader import read
from engine.messages import Decision, Given, Utterance
from speech.audio import decode
from speech.ears import Preference, choose, model

ENGINES: list[Preference] = ["pocketsphinx", *(["vosk"] if model("en") else [])]


@pytest.mark.parametrize("engine", ENGINES)
def test_no_note_is_kept_as_a_value_that_was_not_said(engine: Preference) -> None:
    assistant, ears = Assistant(open_database(":memory:")), choose("en", engine)
    vocabulary = assistant.vocabulary("en")
    for number, line in enumerate(load()):
        expected = assistant.expectation("c")
        heard = ears.transcribe(decode(FOLDER / f"{line.note}.ogg"), "en", grammar(expected, vocabulary))
        reading = read(utterance(heard, "en"), expected, vocabulary)
        if reading.decision is Decision.KEEP:
            given = (entry for entry in reading.entries if isinstance(entry, Given))
            assert {place(one.slot, one.row): shown(one.value) for one in given} == line.keeps, heard.text
        typed = Utterance(id=f"{number}", conversation="c", text=line.en, language="en", said_at=datetime.now(UTC))
        assistant.hear(typed)
