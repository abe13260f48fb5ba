"""Which voice speaks, and espeak-ng as a real process."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from speech.errors import VoiceBroken, VoiceMissing
from speech.synthesis import espeak, piper, voices
from speech.synthesis.espeak import Espeak
from speech.synthesis.utterable import LONGEST_CHARACTERS, sayable, sentences
from tests.helpers.voices import needs_espeak


@pytest.fixture
def no_programs(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(piper, "find_spec", lambda name: None)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Of Piper voices: one for English, half a one for Spanish."""
    for name in ("en/b.onnx", "en/a.onnx", "en/b.onnx.json", "es/c.onnx"):
        file = tmp_path / "voices" / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.touch()
    return tmp_path / "voices"


def test_a_voice_file_counts_with_its_description(folder: Path) -> None:
    assert piper.voice_file(folder / "en") == folder / "en" / "b.onnx"
    assert piper.voice_file(folder / "es") is None
    assert piper.voice_file(folder / "fr") is None


@needs_espeak
def test_auto_takes_piper_where_it_can_else_espeak(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(piper, "program", lambda: ("piper",))
    chosen = {language: voices.choose(language, "auto", folder) for language in ("en", "es", "fr")}
    assert {language: voice and voice.name for language, voice in chosen.items()} == {
        "en": "piper",
        "es": "espeak-ng",
        "fr": "espeak-ng",
    }
    monkeypatch.setattr(piper, "program", lambda: None)
    espeak_only = voices.choose("en", "auto", folder)
    assert espeak_only and espeak_only.name == "espeak-ng"
    assert voices.choose("es", "piper", folder) is None
    assert voices.choose("en", "none", folder) is None


def test_without_programs_nobody_speaks(no_programs: None, folder: Path) -> None:
    assert voices.choose("en", "auto", folder) is None
    with pytest.raises(VoiceMissing, match="install espeak-ng"):
        Espeak("en").speak("yes")


@needs_espeak
@pytest.mark.parametrize(
    ("language", "text"), [("en", "Row three: four nine point five grams."), ("es", "Surco tres: cuatro nueve gramos.")]
)
def test_espeak_says_it_in_a_plausible_time(language: str, text: str) -> None:
    usual, fast = Espeak(language).speak(text), Espeak(language, 1.6).speak(text)
    assert 1.5 < usual.duration_s < 5
    assert fast.duration_s < 0.8 * usual.duration_s
    assert 0.02 < float(np.sqrt(np.mean(usual.samples**2))) < 0.5


@needs_espeak
def test_the_languages_sound_apart() -> None:
    english, spanish = Espeak("en").speak("no papa"), Espeak("es").speak("no papa")
    assert not np.array_equal(english.samples, spanish.samples)


@needs_espeak
@pytest.mark.parametrize("text", ["--help", "-f no-such-file", "[[hel@U]] <b>", "$(exit 1)", "a\0b", "\ud800 yes"])
def test_text_is_data(text: str) -> None:
    assert Espeak("en").speak(text).duration_s > 0.2


@needs_espeak
def test_nothing_to_say_is_no_sound() -> None:
    assert [Espeak("en").speak(text).duration_s for text in ("", "  \n", "🙂 …")] == [0, 0, 0]


@needs_espeak
def test_espeak_that_fails_or_hangs_is_broken(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(VoiceBroken, match=r"does not speak: \S"):
        Espeak("en")._spoken("yes", tmp_path / "no such folder" / "said.wav")
    monkeypatch.setattr(espeak, "patience_s", lambda words: 0.0)
    with pytest.raises(VoiceBroken, match="in time"):
        Espeak("en").speak("yes")


@given(st.text(max_size=200))
def test_what_is_said_is_one_printable_line_with_something_in_it(text: str) -> None:
    line = sayable(text)
    assert line == "" or any(map(str.isalnum, line))
    assert not any(ord(mark) < 32 or 0xD800 <= ord(mark) < 0xE000 for mark in line)
    assert "[[" not in line
    assert "".join(filter(str.isalnum, line)) == ("".join(filter(str.isalnum, text)) if line else "")


def test_a_very_long_text_is_cut() -> None:
    assert len(sayable("row " * LONGEST_CHARACTERS)) <= LONGEST_CHARACTERS


def test_sentences_are_what_stands_between_marks_and_lines() -> None:
    assert sentences("Row 3: 49.5 g. Rows: 8.\nHow far apart? ¿Sí? - \n🙂") == (
        "Row 3: 49.5 g.",
        "Rows: 8.",
        "How far apart?",
        "¿Sí? -",
    )


@given(st.text(alphabet="Ab .!?\n9¿", max_size=60))
def test_no_word_is_lost_between_sentences(text: str) -> None:
    def words(said: str) -> str:
        return "".join(filter(str.isalnum, said))

    assert words("".join(sentences(text))) == words(text)
