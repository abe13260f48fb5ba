"""The utterances of the rounds: what was understood of them stays understood."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import pytest

from bot.bench.judging import CaseOutcome, Grade
from bot.bench.learning import meanings_of
from bot.bench.suite import load_suite
from bot.bench.suite_stage import SuiteStage
from bot.bench.understanding import results
from engine.messages import Asked
from engine.understanding.weighing.classifier import load_classifier

UTTERANCES = Path(__file__).parents[1] / "utterances"
LEAST_RIGHT, MOST_WRONG = 0.78, 0.02
"""Well below what the last round gave before its causes were mended, which the guide for contributors tells."""


@pytest.mark.campaign
@pytest.mark.parametrize("language", ["en", "es"])
def test_the_last_round_is_understood(language: str) -> None:
    folder = UTTERANCES / language
    found = list(results(load_suite(folder / "round-12a.yaml", folder / "contexts.yaml"), language))
    counts = Counter(one.judged for one in found)
    assert len(found) >= 300
    assert counts[Grade.RIGHT] >= LEAST_RIGHT * len(found)
    assert counts[Grade.KEPT_WRONG] <= MOST_WRONG * len(found)


@pytest.mark.parametrize("language", ["en", "es"])
def test_emergencies_are_answered_whatever_was_asked(language: str) -> None:
    folder = UTTERANCES / language
    suites = [load_suite(path, folder / "contexts.yaml") for path in sorted(folder.glob("round-*.yaml"))]
    alike = [one for one in suites if one.contexts == suites[0].contexts]
    stage = SuiteStage(suites[0], language)
    told, answered = 0, 0
    for case in [case for suite in alike for case in suite.cases if case.asks == "emergency"]:
        outcome = CaseOutcome(stage.say(stage.place(case.context), case.said))
        told += 1
        answered += any(isinstance(one, Asked) and one.topic == case.asks for one in outcome.said.reading.entries)
    assert len(alike) >= len(suites) - 1
    assert told >= 20
    assert answered >= 0.9 * told


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_meaning_of_the_rounds_was_learned(language: str) -> None:
    folder = UTTERANCES / language
    learned = set(load_classifier(language).meanings)
    suite = load_suite(folder / "round-7.yaml", folder / "contexts.yaml")
    stage = SuiteStage(suite, language)
    wanted = {one for case in suite.cases for one in meanings_of(case, stage.expectation(stage.place(case.context)))}
    assert len(wanted) >= 30
    assert wanted - learned <= {"report:catch"}
