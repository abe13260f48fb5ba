"""Test runs by voice, with the operator who listens and mends."""

import json
import random

import pytest
from typer.testing import CliRunner

from bot.bench.conversation import Cab
from bot.bench.operator import Operator, begun
from bot.cli import app
from bot.settings import load_settings
from bot.wiring import rules
from engine.assistant import Assistant
from engine.database import open_database
from engine.messages import HeardWord
from speech import voices


def operator(hear, seed=3):
    cab = Cab(None, None, 5.0, "test")
    assistant = Assistant(open_database(":memory:"), rules(load_settings()))
    begun(assistant, cab.typed)
    return Operator(assistant, lambda text, expects: hear(cab.typed(text), expects), random.Random(seed), "test")


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


@pytest.mark.skipif(voices.choose("en", "espeak-ng") is None, reason="espeak-ng is not installed")
def test_a_test_run_by_voice():
    done = CliRunner().invoke(
        app, ["bench", "conversation", "--runs", "1", "--snr", "20", "--voice", "espeak-ng", "--json"]
    )
    report = json.loads(done.stdout)
    assert report["values"] == 8
    assert (report["unread"], report["left"], report["given_up"]) == (0, 0, 0)
    assert report["utterances_per_value"] == round(report["utterances"] / 8, 3)
