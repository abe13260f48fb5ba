"""The real PocketSphinx on real sound: the demo's notes, and everything that is not speech."""

import time
from pathlib import Path

import numpy as np
import pytest

from demo.recording import FOLDER, Note, script
from speech import recognizer_choice
from speech.audio import AudioClip, clip, decode
from speech.errors import GrammarError, ModelMissing
from speech.pocketsphinx import GRAMMARS_KEPT, PocketSphinxRecognizer
from speech.recognizer import Recognizer
from speech.transcript import SoundTrouble

NOTES = script().notes
GRAMMAR = """#JSGF V1.0; grammar rows;
<unit> = one | two | three | four | five | six | seven | eight | nine;
<digit> = <unit> | zero | oh;
<teen> = ten | eleven | twelve | thirteen | fourteen | fifteen | sixteen | seventeen | eighteen | nineteen;
<tens> = twenty | thirty | forty | fifty | sixty | seventy | eighty | ninety;
<below> = <unit> | <teen> | <tens> [<unit>];
<whole> = <below> | (one | a | two) hundred [[and] <below>];
<number> = <whole> [point <digit> [<digit>] | and a half | and a quarter | and three quarters];
<row> = row (one | two | three | four | five | six | seven | eight);
<mass> = gram | grams | ounce | ounces | pound | pounds;
public <catch> = <number> [<mass> | seconds | minutes] | (<row> [was | is] <number> [<mass>])+;
public <command> = yes | no | scratch that | test run | done | skip | help | stop | repeat;
"""


@pytest.fixture(scope="module")
def recognizer() -> Recognizer:
    return recognizer_choice.choose("en", "pocketsphinx")


def loud(samples: np.ndarray) -> AudioClip:
    return clip(samples.astype(np.float32), 16_000)


def hum(seconds: float) -> np.ndarray:
    return 0.2 * np.random.default_rng(7).standard_normal(int(seconds * 16_000))


def words(text: str) -> str:
    return text.replace(",", "")


@pytest.mark.parametrize("note", NOTES, ids=lambda note: note.file)
def test_every_demo_note_is_understood(note: Note, recognizer: Recognizer) -> None:
    heard = recognizer.transcribe(decode(FOLDER / f"{note.file}.ogg"), note.language, GRAMMAR)
    assert heard.text == words(note.text)
    assert heard.confidence >= 0.5
    assert heard.trouble is None


def test_words_follow_each_other_inside_the_clip(recognizer: Recognizer) -> None:
    note = decode(FOLDER / f"{NOTES[0].file}.ogg")
    heard = recognizer.transcribe(note, "en", GRAMMAR)
    times = [at for word in heard.words for at in (word.start_s, word.end_s)]
    assert times == sorted(times)
    assert times[-1] <= note.duration_s + 0.05
    assert heard.engine == "pocketsphinx"
    assert heard.text not in heard.alternatives


def test_a_clip_gives_the_same_words_whatever_was_heard_before() -> None:
    clips = [decode(FOLDER / f"{note.file}.ogg") for note in NOTES[:4]]
    fresh = PocketSphinxRecognizer()
    forth = [fresh.transcribe(one, "en", GRAMMAR) for one in clips]
    back = [fresh.transcribe(one, "en", GRAMMAR) for one in reversed(clips)]
    assert [(heard.words, heard.alternatives) for heard in forth] == [
        (heard.words, heard.alternatives) for heard in reversed(back)
    ]


@pytest.mark.parametrize("samples", [np.zeros(32_000), 1e-5 * hum(2), np.zeros(1_600)], ids=["zeros", "hiss", "short"])
def test_silence_is_silence(samples: np.ndarray, recognizer: Recognizer) -> None:
    heard = recognizer.transcribe(loud(samples), "en", GRAMMAR)
    assert heard.trouble is SoundTrouble.SILENCE
    assert heard.words == ()


def test_steady_noise_is_too_noisy_and_never_sure(recognizer: Recognizer) -> None:
    heard = recognizer.transcribe(loud(hum(4)), "en", GRAMMAR)
    assert heard.trouble is SoundTrouble.TOO_NOISY
    assert heard.confidence < 0.5


def test_clipping_is_told(recognizer: Recognizer) -> None:
    note = decode(FOLDER / f"{NOTES[0].file}.ogg").samples
    heard = recognizer.transcribe(loud(np.clip(note * 30, -1, 1)), "en", GRAMMAR)
    assert heard.trouble is SoundTrouble.CLIPPED


@pytest.mark.campaign
def test_long_noise_takes_bounded_time(recognizer: Recognizer) -> None:
    started = time.process_time()
    assert recognizer.transcribe(loud(hum(20)), "en", GRAMMAR).confidence < 0.5
    assert time.process_time() - started < 20


def test_many_grammars_do_not_pile_up() -> None:
    fresh = PocketSphinxRecognizer()
    note = decode(FOLDER / "yes.ogg")
    for number in range(GRAMMARS_KEPT + 3):
        grammar = f"#JSGF V1.0; grammar g{number}; public <x> = yes | no;"
        assert fresh.transcribe(note, "en", grammar).text == "yes"
    assert len(fresh.grammars) == GRAMMARS_KEPT


def test_words_without_pronunciation_take_only_their_sentences_along(recognizer: Recognizer) -> None:
    note = decode(FOLDER / "yes.ogg")
    mixed = "#JSGF V1.0; grammar g; public <x> = yes | no | xqzzy;"
    assert recognizer.transcribe(note, "en", mixed).text == "yes"
    with pytest.raises(GrammarError, match="xqzzy"):
        recognizer.transcribe(note, "en", "#JSGF V1.0; grammar g; public <x> = xqzzy;")


def test_a_language_without_a_model_is_refused(tmp_path: Path) -> None:
    for preference in recognizer_choice.PREFERENCES:
        with pytest.raises(ModelMissing) as caught:
            recognizer_choice.choose("fr", preference, tmp_path)
        assert caught.value.language == "fr"


def test_an_installed_model_comes_first(tmp_path: Path) -> None:
    (tmp_path / "en" / "am").mkdir(parents=True)
    (tmp_path / "en" / "am" / "final.mdl").write_bytes(b"")
    assert recognizer_choice.model("en", tmp_path) == tmp_path / "en"
