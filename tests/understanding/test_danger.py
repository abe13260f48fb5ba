"""Emergencies in people's own words: recall before precision, in the suites written for them and as a law."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bot.bench.judging import CaseOutcome
from bot.bench.suite import UtteranceCase, load_suite
from bot.bench.suite_stage import SuiteStage
from engine.intents import Topic
from engine.messages import Asked, Reported

UTTERANCES = Path(__file__).parents[1] / "utterances"
LANGUAGES = ("en", "es")
LEAST_FOUND, MOST_FALSE = 0.97, 0.35
"""Of the suites: almost all emergencies are found; of what was written to look like one, a third may be taken so."""
PLACES = (
    "rows",
    "speed",
    "check",
    "catch",
    "in_use",
    "loaded",
    "shift",
    "stopped",
    "paused",
    "ended",
    "closed",
    "locked",
)
TELLING = {
    "en": (
        "{} and I feel dizzy",
        "got some in my eyes, {}",
        "my dog ate some. {}",
        "{}, bag tore and it's in the creek",
    ),
    "es": ("{} y me siento mareado", "me cayó en los ojos, {}", "el perro se lo comió. {}", "{}, se rompió el costal"),
}
BESIDE = {"en": ("five", "all good", "row two", "hold on"), "es": ("cinco", "todo bien", "surco dos", "espérame")}


@lru_cache(maxsize=2)
def stage(language: str) -> SuiteStage:
    return SuiteStage(load_suite(UTTERANCES / language / "contexts.yaml"), language)


def answered(language: str, place: str, said: str) -> bool:
    here = stage(language)
    entries = here.say(here.place(place), said).reading.entries
    return any(isinstance(one, Asked) and one.topic is Topic.EMERGENCY for one in entries)


def cases(language: str) -> list[UtteranceCase]:
    folder = UTTERANCES / language
    return [case for path in sorted(folder.glob("emergencies-*.yaml")) for case in load_suite(path).cases]


@pytest.mark.parametrize("language", LANGUAGES)
def test_emergencies_are_found_in_any_words(language: str) -> None:
    told = [case for case in cases(language) if case.asks == Topic.EMERGENCY]
    found = sum(answered(language, case.context, case.said) for case in told)
    assert len(told) >= 180
    assert found >= LEAST_FOUND * len(told)


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_only_looks_like_one_is_seldom_taken_for_it(language: str) -> None:
    other = [case for case in cases(language) if case.asks != Topic.EMERGENCY]
    found = sum(answered(language, case.context, case.said) for case in other)
    assert len(other) >= 80
    assert found <= MOST_FALSE * len(other)


@pytest.mark.parametrize("language", LANGUAGES)
@settings(max_examples=60, deadline=None)
@given(place=st.sampled_from(PLACES), telling=st.integers(0, 3), beside=st.integers(0, 3))
def test_an_emergency_is_answered_whatever_is_asked_and_said_beside(
    language: str, place: str, telling: int, beside: int
) -> None:
    said = TELLING[language][telling].format(BESIDE[language][beside])
    assert answered(language, place, said)


def test_what_is_plainly_told_beside_an_emergency_is_kept() -> None:
    here = stage("en")
    outcome = CaseOutcome(here.say(here.place("shift"), "row five stopped. my eyes are burning"))
    entries = outcome.said.reading.entries
    assert [one.rows for one in entries if isinstance(one, Reported)] == [(5,)]
    assert isinstance(entries[0], Asked)
    assert outcome.reply.index("911") < outcome.reply.index("Row 5 stopped")


@pytest.mark.parametrize("name", ["Dead Horse", "Fire Ridge", "Smoke Hill"])
def test_a_name_with_capitals_is_no_emergency(name: str) -> None:
    assert not answered("en", "field", name)
