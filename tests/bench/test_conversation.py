"""Test runs by voice, with the operator who listens and mends."""

import json
import random
import shutil

import numpy as np
import pytest
from typer.testing import CliRunner

from bot.bench.voice_operator import TARE_G, TARGET_G, VoiceOperator, begun, weighed
from bot.bench.voice_runs import Cab, Unheard
from bot.cli import app
from bot.settings import load_settings
from bot.wiring import rules
from engine.assistant import Assistant
from engine.database import open_database
from engine.messages import HeardWord
from speech.synthesis import voices


def operator(hear, seed=3):
    cab = Cab(None, None, 5.0, "test")
    assistant = Assistant(open_database(":memory:"), rules(load_settings()))
    begun(assistant, cab.typed)
    return VoiceOperator(assistant, lambda text, expects: hear(cab.typed(text), expects), random.Random(seed), "test")


def test_who_is_always_understood_says_each_value_once():
    tried = operator(lambda said, _: said).catch()
    assert (tried.values, tried.wrong, tried.left, tried.given_up) == (8, 0, 0, 0)
    assert tried.utterances <= 8


def test_a_value_heard_wrong_is_read_back_and_taken_back():
    count = iter(range(1000))

    def mishear(said, expects):
        text = said.text
        if next(count) % 3 == 0 and text.startswith("row"):
            text = " ".join([*text.split()[:2], "eighty", "one"])
        return said.model_copy(update={"text": text})

    tried = operator(mishear).catch()
    assert tried.wrong > 0
    assert (tried.unread, tried.left, tried.given_up) == (0, 0, 0)
    assert tried.utterances > 8


def test_a_doubtful_value_is_confirmed():
    def doubted(said, expects):
        sure = 0.6 if said.text.startswith("row") else 1.0
        words = tuple(HeardWord(text=word, confidence=sure) for word in said.text.split())
        return said.model_copy(update={"spoken": True, "words": words})

    tried = operator(doubted).catch()
    assert (tried.wrong, tried.left, tried.given_up) == (0, 0, 0)
    assert tried.utterances > 8


def test_who_is_never_understood_gives_up_and_leaves_nothing_wrong():
    tried = operator(lambda said, _: said.model_copy(update={"text": "left right"})).catch()
    assert (tried.given_up, tried.left) == (8, 0)


@pytest.mark.campaign
@pytest.mark.skipif(voices.choose("en", "espeak-ng") is None, reason="espeak-ng is not installed")
def test_a_test_run_by_voice():
    done = CliRunner().invoke(
        app, ["bench", "conversation", "--runs", "1", "--snr", "20", "--voice", "espeak-ng", "--json"]
    )
    report = json.loads(done.stdout)
    assert report["values"] == 8
    assert (report["unread"], report["left"], report["given_up"]) == (0, 0, 0)
    assert report["utterances_per_value"] == round(report["utterances"] / 8, 3)


@pytest.mark.campaign
@pytest.mark.skipif(voices.choose("en", "espeak-ng") is None, reason="espeak-ng is not installed")
def test_two_runs_of_voices_never_trained_on_leave_nothing_wrong():
    done = CliRunner().invoke(app, ["bench", "conversation", "--runs", "2", "--voice", "unheard", "--json"])
    report = json.loads(done.stdout)
    assert (report["runs"], report["values"], report["left"]) == (2, 16, 0)
    assert report["p95_decision_s"] > 0


def test_the_catches_are_those_of_simulated_planters_and_the_same_for_a_seed():
    caught = [weighed(np.random.default_rng(seed)) for seed in (1, 1, 2)]
    assert caught[0] == caught[1] != caught[2]
    assert all(list(one) == list(range(1, 9)) for one in caught)
    assert all(TARE_G <= grams <= TARE_G + 3 * TARGET_G and (grams * 2) % 1 == 0 for grams in caught[0].values())


def test_a_speaker_that_was_never_trained_on_is_the_same_for_all_of_a_run():
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")
    first, again, other = (Unheard(number).speak("row three").samples for number in (0, 0, 1))
    assert np.array_equal(first, again)
    assert len(first) != len(other) or not np.array_equal(first, other)


def test_a_folder_without_recordings_is_refused(tmp_path):
    done = CliRunner().invoke(app, ["bench", "conversation", "--noise", str(tmp_path), "--voice", "espeak-ng"])
    assert done.exit_code == 2
