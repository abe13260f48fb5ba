"""Vosk: how its results are read, and the real engine where a model is at hand."""

from pathlib import Path

import pytest

from demo.recording import FOLDER
from speech import recognizer_choice
from speech.audio import decode
from speech.errors import ModelBroken, ModelMissing
from speech.panel.hypothesis import trimmed
from speech.transcript import TranscriptWord
from speech.vosk import SECOND_CHOICE, VoskRecognizer, _alternatives, _texts, _words
from tests.speech.test_recognition import GRAMMAR, NOTES, words

PART = {
    "text": "[unk] row nine [unk]",
    "result": [
        {"word": "[unk]", "conf": 0.5, "start": 0.0, "end": 0.1},
        {"word": "row", "conf": 1.00001, "start": 0.1, "end": 0.3},
        {"word": "nine", "conf": 0.75, "start": 0.3, "end": 0.6},
        {"word": "[unk]", "conf": 0.5, "start": 0.6, "end": 0.9},
    ],
}


def test_other_talk_at_the_ends_is_dropped_and_confidence_bounded() -> None:
    reading = trimmed([*_words(PART)])
    assert reading == (TranscriptWord("row", 1.0, 0.1, 0.3), TranscriptWord("nine", 0.75, 0.3, 0.6))


def test_other_talk_inside_stays_for_the_reader_to_judge() -> None:
    inside = [TranscriptWord(text, 1.0, 0.0, 0.0) for text in ("forty", "[unk]", "nine")]
    assert _texts(trimmed(inside)) == ["forty", "[unk]", "nine"]


def test_an_alternative_is_never_sure() -> None:
    first = TranscriptWord("row", 1.0, 0.1, 0.3), TranscriptWord("nine", 0.75, 0.3, 0.6)
    heard = [{"word": "row", "start": 0.1, "end": 0.3}, {"word": "five", "start": 0.3, "end": 0.6}]
    (other,) = _alternatives({"alternatives": [{"text": "row five", "result": heard}]}, first)
    assert [word.confidence for word in other] == [SECOND_CHOICE, 0.25]


def test_a_folder_without_a_model_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ModelBroken):
        VoskRecognizer(tmp_path, "en")
    with pytest.raises(ModelMissing):
        recognizer_choice.choose("fr", "vosk", tmp_path)


@pytest.mark.skipif(recognizer_choice.model("en") is None, reason="no English Vosk model is installed or shipped")
@pytest.mark.parametrize("note", NOTES, ids=lambda note: note.file)
def test_every_demo_note_is_understood_by_vosk(note) -> None:
    heard = recognizer_choice.choose("en", "vosk").transcribe(
        decode(FOLDER / f"{note.file}.ogg"), note.language, GRAMMAR
    )
    assert heard.text == words(note.text)
    assert heard.engine == "vosk"
