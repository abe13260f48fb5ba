"""Every note under what the dialog expects there, by one model alone: never a wrong value kept unasked.

``test_play`` holds both models together to more: each note in the whole evening, and nothing kept but what it says.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from bot.hear import utterance
from demo.evening import load, place, shown
from demo.play import FOLDER
from engine.assistant import Assistant
from engine.database import open_database
from engine.entries.grammar import grammar
from engine.entries.strict_reader import read
from engine.messages import Decision, Given, Utterance
from speech.audio import decode
from speech.recognizer_choice import choose, model


@pytest.mark.skipif(not model("en"), reason="no English model of Vosk is here")
def test_no_note_is_kept_as_a_value_that_was_not_said() -> None:
    assistant, ears = Assistant(open_database(":memory:")), choose("en", "vosk")
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
