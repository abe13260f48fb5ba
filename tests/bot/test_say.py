"""``rowhand say`` with the real espeak-ng: what it writes, and one sentence where it cannot."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
import soundfile

from bot import cli
from bot.say import fixed_sentences
from engine.data.forms import load_forms
from engine.dialog.reply.speech_text import aloud
from engine.messages import LANGUAGES, Language
from speech.audio import decode
from speech.synthesis.espeak import Espeak
from speech.synthesis.phrase_cache import PhraseCache
from speech.synthesis.utterable import sentences
from tests.helpers.talking import Conversation
from tests.helpers.voices import needs_espeak

pytestmark = needs_espeak


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("XDG_CACHE_HOME", "XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.setenv(name, str(tmp_path / "home"))
    for name in ("VOICE", "VOICES", "SPEECH_RATE", "LANGUAGE", "SETTINGS"):
        monkeypatch.delenv(f"ROWHAND_{name}", raising=False)
    monkeypatch.setenv("ROWHAND_VOICE", "espeak-ng")


def say(monkeypatch: pytest.MonkeyPatch, *arguments: str | Path) -> int:
    monkeypatch.setattr(sys, "argv", ["rowhand", "say", *map(str, arguments)])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    return int(ended.value.code or 0)


@pytest.mark.parametrize("suffix", [".wav", ".ogg", ".OGG"])
def test_it_writes_what_the_voice_says(suffix: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / f"said{suffix}"
    assert say(monkeypatch, "Row 3: 49.5 g", "--out", file) == 0
    voice = Espeak("en", voice=load_forms("en").speech.voice)
    words = PhraseCache(voice, "en", tmp_path).speak("Row three: four nine point five grams")
    assert decode(file).duration_s == pytest.approx(words.duration_s, abs=0.05)
    assert soundfile.info(file).format == suffix[1:].upper()


def test_pace_and_language_are_heard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "said.wav"
    lengths = []
    for pace in ("1", "1.5"):
        monkeypatch.setenv("ROWHAND_SPEECH_RATE", pace)
        assert say(monkeypatch, "--language", "es", "--out", file, "--", "-¿Cuántos surcos tiene la sembradora?") == 0
        lengths.append(decode(file).duration_s)
    assert lengths[1] < 0.8 * lengths[0]


@pytest.mark.campaign
def test_prompts_are_made_once(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    assert [say(monkeypatch, "--prompts") for _ in range(2)] == [0, 0]
    assert capsys.readouterr().out.splitlines() == [
        f"{len(fixed_sentences('en'))} sentences made ready",
        "0 sentences made ready",
    ]


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        (("yes", "--out", "said.mp3"), 2, ".wav or .ogg"),
        ((), 2, "a text or --prompts"),
        (("yes", "--prompts"), 2, "a text or --prompts"),
        (("🙂", "--out", "said.wav"), 2, "nothing to say"),
        (("yes", "--voice", "none"), 3, "no voice for 'en'"),
        (("yes", "--voice", "piper"), 3, "install espeak-ng, or Piper"),
        (("yes", "--out", "no such folder/said.wav"), 5, "cannot be written"),
        (("yes", "--out", "no such folder/said.ogg"), 5, "cannot be written"),
        (("yes",), 5, "--out"),
    ],
)
def test_what_cannot_be_said_is_one_sentence(
    arguments: tuple[str, ...],
    code: int,
    told: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    assert say(monkeypatch, *arguments) == code
    errors = capsys.readouterr().err
    assert told in errors
    assert len(errors.splitlines()) == 1


@pytest.mark.parametrize("language", LANGUAGES)
def test_fixed_sentences_are_those_of_real_replies(language: Language, tmp_path: Path) -> None:
    fixed = fixed_sentences(language)
    assert all(sentence == aloud(sentence, language) for sentence in fixed)
    assert not any(mark in sentence for sentence in fixed for mark in "{}")
    talk = Conversation(tmp_path / "record.db", language)
    reply = talk.say({"en": "set up", "es": "preparación"}[language]).reply
    assert set(sentences(reply.speech)) <= set(fixed)
    assert len(sentences(reply.speech)) > 1
