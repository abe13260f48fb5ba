"""Every note under what the dialog expects there, by one model alone: never a wrong value kept unasked.

``test_play`` holds both models together to more: each note in the whole evening, and nothing kept but what it says.
"""

from __future__ import annotations

from datetime import UTC, timedelta

import pytest

from bot.hear import utterance
from demo.author import BEGAN
from demo.play import FOLDER
from demo.script_lines import load, place, reported, shown
from engine.assistant import Assistant
from engine.database import open_database
from engine.entries.grammar import grammar
from engine.entries.strict_reader import read
from engine.messages import Decision, Entry, Given, Reported, Utterance
from speech.audio import decode
from speech.recognizer_choice import choose, model


def said(entry: Entry) -> dict[str, str]:
    """What an entry would keep."""
    match entry:
        case Given():
            return {place(entry.slot, entry.row): shown(entry.value)}
        case Reported():
            return reported(entry.report, entry.rows, entry.value)
        case _:
            return {}


@pytest.mark.campaign
@pytest.mark.skipif(not model("en"), reason="no English model of Vosk is here")
def test_no_note_is_kept_as_a_value_that_was_not_said() -> None:
    assistant, ears = Assistant(open_database(":memory:")), choose("en", "vosk")
    vocabulary, began = assistant.vocabulary("en"), BEGAN.replace(tzinfo=UTC)
    for number, line in enumerate(load()):
        if not line.typed:
            expected = assistant.expectation("c")
            heard = ears.transcribe(decode(FOLDER / f"{line.note}.ogg"), "en", grammar(expected, vocabulary))
            reading = read(utterance(heard, "en"), expected, vocabulary)
            if reading.decision is Decision.KEEP:
                assert {of: told for one in reading.entries for of, told in said(one).items()}.items() <= (
                    line.keeps.items()
                ), heard.text
        typed = Utterance(
            id=f"{number}",
            conversation="c",
            text=line.en,
            language="en",
            said_at=began + timedelta(seconds=line.at),
        )
        assistant.hear(typed)
