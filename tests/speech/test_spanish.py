"""The shipped Spanish models: what a real voice says is heard, and what is no entry is none."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import numpy as np
import pytest

from bot.bench.numbers import plain_numbers
from bot.bench.recording import Recording
from bot.bench.state import State, shift, state
from engine.entries.acceptance import load_acceptance
from engine.entries.phrases.vocabulary import load_vocabulary
from engine.errors import InputError
from speech import recognizer_choice
from speech.audio import AudioClip
from speech.decoding import closed
from speech.decoding import grammar as grammars
from speech.decoding.dictionary import sounds
from speech.decoding.pronunciation import pronounce
from speech.decoding.transducer import PHONES
from speech.endpoint import endpointer
from speech.panel.ensemble import Panel
from speech.panel.synonyms import load_synonyms
from speech.panel.weights import key
from speech.synthesis.espeak import Espeak
from speech.training import phrases
from speech.training.lexicon import DIALOGS, in_spanish, shipped, ways
from speech.transcript import SoundTrouble

SAID = (
    "surco tres cuarenta y nueve punto cinco",
    "hilera dieciséis ciento cuatro gramos",
    "el surco siete sesenta y dos coma uno",
    "surco cuatro era cincuenta y dos",
    "todos los surcos cuarenta",
    "borra eso",
)
TOLD = ("todo bien", "surco cinco parado", "surco doce ya tira", "llevamos cuarenta y dos acres", "fin de turno")
speaking = pytest.mark.skipif(not shutil.which("espeak-ng"), reason="there is no voice to hear")


@pytest.fixture(scope="module")
def panel() -> Panel:
    found = recognizer_choice.choose("es")
    assert isinstance(found, Panel)
    return found


@pytest.fixture(scope="module")
def catches() -> State:
    clips = [Recording(Path("x.ogg"), "set", text, "", False) for text in SAID]
    return state(clips, load_vocabulary("es"), load_acceptance())


@pytest.fixture(scope="module")
def told() -> State:
    return shift(load_vocabulary("es"), load_acceptance())


@speaking
@pytest.mark.parametrize("text", SAID)
def test_a_catch_is_heard(panel: Panel, catches: State, text: str) -> None:
    heard = panel.transcribe(Espeak("es-419").speak(text), "es", catches.grammar)
    assert heard.text == text
    assert heard.confidence >= load_acceptance().value_heard


@speaking
@pytest.mark.parametrize("text", TOLD)
def test_what_is_told_during_a_shift_is_heard(panel: Panel, told: State, text: str) -> None:
    heard = panel.transcribe(Espeak("es-419").speak(text), "es", told.grammar)
    assert told.meaning(heard.text) == told.meaning(text) is not None


@speaking
def test_each_model_alone_hears_and_so_does_the_endpoint(catches: State) -> None:
    clip = Espeak("es-419").speak(SAID[0])
    for folder in ("es", "es-second"):
        model = recognizer_choice.vosk.VoskRecognizer(recognizer_choice.SHIPPED / folder, "es")
        assert model.transcribe(clip, "es", catches.grammar).text == SAID[0]
    ends = endpointer("es")
    ends.expect(catches.grammar)
    quiet = bytes(64_000)
    found = [ends.feed(block) for block in (quiet, clip.pcm16(), quiet, quiet)]
    assert [stretch.words for stretch in found if stretch] == [tuple(SAID[0].split())]


def test_silence_and_noise_are_no_entry(panel: Panel, catches: State) -> None:
    quiet = panel.transcribe(AudioClip(np.zeros(32_000, np.float32)), "es", catches.grammar)
    assert (quiet.words, quiet.trouble) == ((), SoundTrouble.SILENCE)
    hiss = np.random.default_rng(3).standard_normal(32_000).astype(np.float32) * 0.03
    heard = panel.transcribe(AudioClip(hiss), "es", catches.grammar)
    assert not heard.text or heard.confidence < load_acceptance().value_heard


def test_all_that_a_dialog_lets_say_can_be_heard() -> None:
    """``python -m speech.training.export speech/models/es --language es`` (and ``es-second``) writes the words anew."""
    needed = shipped(DIALOGS, "es")
    for name in ("es", "es-second"):
        known = closed.lexicon(recognizer_choice.SHIPPED / name)
        assert {word for word in needed if known.get(word) != needed[word]} == set()
    for word in ("hilera", "surco", "punto", "coma", "dieciséis", "novecientos", "rellené", "tapado", "báscula"):
        assert word in needed


def test_what_the_phrases_say_is_understood_and_can_be_heard(told: State) -> None:
    automaton = grammars.automaton(told.grammar)
    for number in range(300):
        text = phrases.phrase(random.Random(number), "shift", "es")
        assert automaton.accepts(text.split()), text
        assert told.meaning(text), text


def test_a_name_sounds_as_it_is_spelt(tmp_path: Path) -> None:
    automaton = grammars.automaton("#JSGF V1.0; grammar g; public <u> = entrego a (chabela | sí);")
    assert sounds({"chabela", "x2"}, "es") == {"chabela": pronounce("chabela")}
    closed.write(recognizer_choice.SHIPPED / "es", tmp_path / "model", automaton, language="es")
    assert "chabela 2\n" in (tmp_path / "model" / "graph" / "words.txt").read_text(encoding="utf-8")


def test_words_that_say_the_same_are_compared_as_one() -> None:
    same = load_synonyms("es")
    assert key(["la", "hilera", "tres", "cuarenta", "coma", "dos", "libras"], same) == (
        "surco",
        "tres",
        "cuarenta",
        "punto",
        "dos",
        "libra",
    )
    assert key(("los", "surcos", "están", "altas"), same) == ("surcos", "está", "alto")
    assert all(same.get(word, word) == word for word in same.values())


def test_english_words_are_taken_with_the_phones_of_spanish() -> None:
    spanish = {phone for found in shipped(DIALOGS, "es").values() for way in found for phone in way}
    for word in ("seven", "three", "thirty", "measure", "good", "ring"):
        taken = {phone for way in in_spanish(ways(word)) for phone in way}
        assert taken <= spanish <= set(PHONES), word
    assert ways("dieci", "it") == (("D", "Y", "EH", "CH", "IY"),)
    assert ways("nove", "it") == ()


def test_a_set_of_spanish_numbers_waits_for_numbers() -> None:
    words, limits = load_vocabulary("es"), load_acceptance()

    def of(*texts: str) -> State:
        return state([Recording(Path("x.ogg"), "set", text, "", False) for text in texts], words, limits)

    digits, numbers = of("dos seis ocho"), of("cuarenta y cinco", "ciento dos", "mil")
    for waiting, text, allowed in (
        (digits, "cero nueve", True),
        (digits, "cuarenta", False),
        (numbers, "novecientos treinta y uno", True),
        (numbers, "dos tres", False),
    ):
        assert grammars.automaton(waiting.grammar).accepts(text.split()) is allowed
    assert digits.meaning("dos seis") == digits.meaning("veintiséis") is not None
    with pytest.raises(InputError, match="plain numbers of 'xx'"):
        plain_numbers("xx")
