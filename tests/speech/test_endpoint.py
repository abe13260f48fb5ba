"""Ends of utterances, found in sound that comes in blocks."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from demo.recording import FOLDER
from speech.audio import decode
from speech.endpoint import LEAD_S, Endpointer, UtteranceSound, endpointer
from speech.errors import ModelMissing

GRAMMAR = "#JSGF V1.0; grammar few; public <say> = test run | done | scratch that | row (one | two) forty nine;"
BLOCK = 3200


def hiss(seconds: float) -> bytes:
    return (np.random.default_rng(3).standard_normal(int(seconds * 16_000)) * 30).astype("<i2").tobytes()


def note(name: str) -> bytes:
    return decode(FOLDER / f"{name}.ogg").pcm16()


@pytest.fixture
def ear() -> Endpointer:
    made = endpointer("en")
    made.expect(GRAMMAR)
    return made


def fed(ear: Endpointer, sound: bytes) -> Iterator[UtteranceSound]:
    for at in range(0, len(sound), BLOCK):
        found = ear.feed(sound[at : at + BLOCK])
        if found is not None:
            yield found


def test_each_utterance_comes_whole_and_once(ear: Endpointer) -> None:
    sound = hiss(3) + note("test-run") + hiss(2) + note("scratch") + hiss(2)
    found = list(fed(ear, sound))
    assert [one.words for one in found] == [("test", "run"), ("scratch", "that")]
    assert not any(one.is_cut for one in found)
    assert all(0.8 < one.clip.duration_s < 4 for one in found)


def test_other_talk_has_no_words(ear: Endpointer) -> None:
    found = list(fed(ear, hiss(1) + note("over-a-hundred") + hiss(3)))
    assert found
    assert all(one.words == () for one in found)


def test_speech_without_end_is_cut(ear: Endpointer) -> None:
    ear.longest_s = 2.0
    found = list(fed(ear, hiss(1) + note("test-run")[8000:-8000] * 4))
    assert any(one.is_cut for one in found)
    assert all(one.clip.duration_s < 2.0 + LEAD_S for one in found)


def test_silence_for_long_keeps_nothing(ear: Endpointer) -> None:
    assert list(fed(ear, hiss(12))) == []
    assert len(ear._sound) <= (LEAD_S + 0.1) * 32_000
    assert not ear.is_open


def test_a_language_without_a_model_is_told() -> None:
    with pytest.raises(ModelMissing, match="'xx'"):
        endpointer("xx")
