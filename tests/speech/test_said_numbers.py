"""A number that a reply says aloud is heard as that number: by the real recogniser, from every voice there is."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from bot.hear import expectation, utterance
from engine.dialog.reply.speech_text import aloud
from engine.entries.grammar import grammar
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.messages import Given
from engine.quantities import Measure
from speech import recognizer_choice
from speech.audio import AudioClip
from speech.synthesis.piper import Piper
from speech.synthesis.synthesizer import Synthesizer
from tests.helpers.voices import PIPER_VOICE, by_espeak, needs_espeak, needs_piper

ROWS = 8
CATCHES = (49.5, 15.2, 50.3, 13, 30.7, 104, 16.6, 60.25, 9.9, 40.1, 14.4, 99.9)
needs_model = pytest.mark.skipif(
    recognizer_choice.model("en") is None, reason="no English Vosk model is installed or shipped"
)


@pytest.fixture(
    scope="module", params=[pytest.param("espeak", marks=needs_espeak), pytest.param("piper", marks=needs_piper)]
)
def voice(request: pytest.FixtureRequest) -> Iterator[Synthesizer]:
    if request.param == "espeak":
        yield by_espeak("en")
        return
    speaker = Piper(PIPER_VOICE or Path(), "en")
    yield speaker
    speaker.close()


def heard(clip: AudioClip) -> list[tuple[int | None, object]]:
    """Row and value of every catch in a clip."""
    expected, vocabulary = expectation("en", ROWS, None), load_vocabulary("en")
    transcript = recognizer_choice.choose("en", "vosk").transcribe(clip, "en", grammar(expected, vocabulary))
    reading = read(utterance(transcript, "en"), expected, vocabulary)
    return [(entry.row, entry.value) for entry in reading.entries if isinstance(entry, Given)]


@needs_model
@pytest.mark.parametrize(("row", "catch"), [(1 + number % ROWS, catch) for number, catch in enumerate(CATCHES)])
def test_the_number_that_is_said_is_the_number_that_is_heard(row: int, catch: float, voice: Synthesizer) -> None:
    said = aloud(f"Row {row}: {catch:g} g", "en")
    assert not any(map(str.isdigit, said))
    assert heard(voice.speak(said)) == [(row, Measure(value=catch, unit="g"))]


@needs_model
@needs_espeak
def test_another_number_is_heard_as_another() -> None:
    voice = by_espeak("en")
    pairs = [(15, 50), (13, 30), (14, 40), (16, 60)]
    for low, high in pairs:
        values = [heard(voice.speak(aloud(f"Row 2: {catch} g", "en"))) for catch in (low, high)]
        assert values == [[(2, Measure(value=catch, unit="g"))] for catch in (low, high)]


@needs_espeak
@pytest.mark.parametrize("catch", CATCHES)
def test_spanish_says_each_digit(catch: float) -> None:
    said = aloud(f"Surco 3: {catch:g} g", "es")
    assert not any(map(str.isdigit, said))
    words = len(said.split())
    assert 0.2 * words < by_espeak("es").speak(said).duration_s < 0.8 * words
