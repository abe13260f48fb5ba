"""The shipped models: the stock vosk package loads them and hears the demo's notes, as said and as unknown."""

from __future__ import annotations

import heapq
import json
import math
from collections.abc import Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import vosk

from speech.audio import decode
from speech.decoding import closed
from speech.decoding import grammar as grammars
from speech.decoding.transducer import PHONES, TOKEN, UNKNOWN, Transducer, enter, stay
from speech.training.lexicon import shipped

ROOT = Path(__file__).parents[2]
MODELS = ROOT / "speech" / "models"
NOTES = ROOT / "demo" / "voice"
LARGEST_BYTES = 30 * 2**20
CATCH = """#JSGF V1.0; grammar catch;
<small> = one | two | three | four | five | six | seven | eight | nine;
<teen> = ten | eleven | twelve | thirteen | fourteen | fifteen | sixteen | seventeen | eighteen | nineteen;
<tens> = twenty | thirty | forty | fifty | sixty | seventy | eighty | ninety;
<below> = <small> | <teen> | <tens> [<small>];
<number> = <below> [point <small> [<small>]] | <below> and a half | <small> hundred [and] [<below>];
public <say> = row <below> [was] <number> | <number> (grams | ounces | seconds) | done | scratch that | yes | no;
"""
SAID = {
    "row-three": "row three forty nine point five",
    "a-half": "forty nine and a half grams",
    "over-a-hundred": "one hundred and four grams",
    "ounces": "one point seven five ounces",
    "course-time": "forty one seconds",
    "correction": "row two was fifty two",
    "scratch": "scratch that",
    "done": "done",
    "yes": "yes",
}
vosk.SetLogLevel(-1)


@lru_cache(maxsize=2)
def fixed(name: str) -> vosk.Model:
    return closed.load(MODELS / name, grammars.automaton(CATCH))


@lru_cache(maxsize=2)
def free(name: str) -> vosk.Model:
    return vosk.Model(str(MODELS / name))


@pytest.fixture(scope="module", autouse=True)
def _models_are_freed() -> Iterator[None]:
    yield
    fixed.cache_clear()
    free.cache_clear()


def heard(recognizer: Any, sound: bytes) -> str:
    parts = [recognizer.Result()] if recognizer.AcceptWaveform(sound) else []
    return " ".join(text for part in [*parts, recognizer.FinalResult()] if (text := json.loads(part)["text"]))


def test_the_models_are_small() -> None:
    assert 0 < sum(file.stat().st_size for file in MODELS.rglob("*") if file.is_file()) <= LARGEST_BYTES


@pytest.mark.parametrize("note", SAID)
def test_a_fixed_graph_hears_the_demo(note: str) -> None:
    recognizer = vosk.KaldiRecognizer(fixed("en"), 16_000)
    assert heard(recognizer, decode(NOTES / f"{note}.ogg").pcm16()) == SAID[note]


@pytest.mark.parametrize("note", ["course-time", "ounces", "yes"])
def test_a_run_time_word_list_hears_the_demo(note: str) -> None:
    words = json.dumps([*sorted(grammars.automaton(CATCH).words()), UNKNOWN])
    recognizer = vosk.KaldiRecognizer(free("en"), 16_000, words)
    assert heard(recognizer, decode(NOTES / f"{note}.ogg").pcm16()) == SAID[note]


def test_the_second_model_agrees_on_most_of_the_demo() -> None:
    recognizer = vosk.KaldiRecognizer(fixed("en-second"), 16_000)
    texts = {note: heard(recognizer, decode(NOTES / f"{note}.ogg").pcm16()) for note in SAID}
    assert sum(texts[note] == SAID[note] for note in SAID) >= len(SAID) - 2


@pytest.mark.parametrize("name", ["en", "en-second"])
def test_silence_and_noise_are_no_entry(name: str) -> None:
    recognizer = vosk.KaldiRecognizer(fixed(name), 16_000)
    noise = (np.random.default_rng(3).standard_normal(32_000) * 1_000).astype("<i2").tobytes()
    for sound in (bytes(64_000), noise):
        assert heard(recognizer, sound) in ("", UNKNOWN)


@pytest.mark.parametrize("name", ["en", "en-second"])
def test_other_words_are_unknown(name: str) -> None:
    only = grammars.automaton("#JSGF V1.0; grammar few; public <say> = stop | no;")
    recognizer = vosk.KaldiRecognizer(closed.load(MODELS / name, only), 16_000)
    assert heard(recognizer, decode(NOTES / "over-a-hundred.ogg").pcm16()) == UNKNOWN


def test_every_word_of_the_lexicon_is_known_to_both_models_and_made_of_phones() -> None:
    words = closed.lexicon(MODELS / "en")
    assert words == closed.lexicon(MODELS / "en-second")
    assert {phone for ways in words.values() for way in ways for phone in way} <= set(PHONES)
    for name in ("en", "en-second"):
        assert all(free(name).vosk_model_find_word(word) >= 0 for word in [*words, UNKNOWN])


def test_all_that_a_dialog_lets_say_can_be_heard() -> None:
    """``python -m speech.training.export speech/models/en`` (and ``en-second``) writes the words anew."""
    known = closed.lexicon(MODELS / "en")
    needed = shipped(ROOT / "dialogs")
    assert {word for word in needed if known.get(word) != needed[word]} == set()
    for word in ("feeding", "agitator", "roll", "tare", "planter", "good"):
        assert word in needed


def test_a_word_twice_the_same_phone_needs_the_blank() -> None:
    graph = Transducer()
    end = graph.state()
    graph.say((0, end), 7, (("N", "N"),), 0.5)
    once = enter(TOKEN["N"])
    assert [arc for arc in graph.arcs[0] if arc[0] == once] == [(once, 7, 0.5, 2)]
    assert {label for label, *_ in graph.arcs[2]} == {stay(TOKEN["N"]), enter(0)}
    assert (once, 0, 0.0, 4) in graph.arcs[3]


def test_words_that_the_lexicon_lacks_cannot_be_said() -> None:
    automaton = grammars.automaton("#JSGF V1.0; grammar g; public <say> = yes | zyzzyva;")
    _, names = closed.graph(automaton, closed.lexicon(MODELS / "en"))
    assert names == ("yes", UNKNOWN)


def cheapest(made: Transducer, words: Sequence[int]) -> float:
    """What the cheapest way through the graph costs that says these words and no others."""
    queue, seen = [(0.0, 0, 0)], set[tuple[int, int]]()
    while queue:
        cost, state, said = heapq.heappop(queue)
        if state == -1:
            return cost
        if (state, said) in seen:
            continue
        seen.add((state, said))
        if said == len(words) and state in made.final:
            heapq.heappush(queue, (cost + made.final[state], -1, said))
        for _, word, each, end in made.arcs[state]:
            if not word or words[said : said + 1] == [word]:
                heapq.heappush(queue, (cost + each, end, said + bool(word)))
    return math.inf


def test_a_word_that_leads_from_many_states_to_one_stands_there_once_and_costs_what_it_did() -> None:
    automaton = grammars.automaton("#JSGF V1.0; grammar g; public <say> = (one | two [point]) pounds;")
    known = closed.lexicon(MODELS / "en")
    made, names = closed.graph(automaton, known)
    label = {name: at + 1 for at, name in enumerate(names)}
    assert [word for arcs in made.arcs for _, word, *_ in arcs].count(label["pounds"]) == len(known["pounds"])
    half = math.log(2)
    for said, cost in {"one pounds": half, "two pounds": 2 * half, "two point pounds": 2 * half}.items():
        assert cheapest(made, [label[word] for word in said.split()]) == pytest.approx(cost)
    assert cheapest(made, [label["one"], label["point"], label["pounds"]]) == math.inf


@pytest.mark.parametrize("said", ["yes", "yes | no | stop | repeat | help"])
def test_unknown_speech_begins_at_the_cost_of_any_first_word(said: str) -> None:
    automaton = grammars.automaton(f"#JSGF V1.0; grammar g; public <say> = {said};")
    made, names = closed.graph(automaton, closed.lexicon(MODELS / "en"), (0.25, 2.0))
    begun = {cost for _, word, cost, _ in made.arcs[0] if word == len(names)}
    word = {cost for _, word, cost, _ in made.arcs[0] if 0 < word < len(names)}
    assert len(word) == len(begun) == 1
    assert begun.pop() - word.pop() == pytest.approx(0.25 + 2.0)
