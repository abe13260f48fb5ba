"""A measure that is asked elsewhere, by a real voice and the real recogniser: heard as what it is, kept nowhere."""

from __future__ import annotations

from pathlib import Path

import pytest

from bot.hear import utterance
from engine.entries.grammar import grammar
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.messages import Unclear, UnclearReason
from speech import recognizer_choice
from tests.helpers.talking import Conversation, beginnings
from tests.helpers.voices import by_espeak, needs_espeak

needs_model = pytest.mark.skipif(
    recognizer_choice.model("en") is None, reason="no English Vosk model is installed or shipped"
)


@needs_model
@needs_espeak
def test_seconds_are_not_bent_to_feet_where_the_course_is_asked(tmp_path: Path) -> None:
    talk, vocabulary = Conversation(tmp_path / "talk.db"), load_vocabulary("en")
    talk.say_all(beginnings()["prepared"][:11])
    assert talk.asks == "course"
    clip = by_espeak("en").speak("forty one seconds")
    heard = recognizer_choice.choose("en").transcribe(clip, "en", grammar(talk.expects, vocabulary))
    (entry,) = read(utterance(heard, "en"), talk.expects, vocabulary).entries
    assert isinstance(entry, Unclear)
    assert entry.reason is UnclearReason.MISPLACED
    assert "forty one second" in entry.said
