"""A name typed with one wrong letter is asked about where it was given before, and never kept as a second one."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from bot.bench.suite import load_suite
from bot.bench.suite_stage import SuiteStage
from engine.messages import Either, Given
from engine.understanding.typed_text import one_slip_away

PLACES = Path(__file__).parents[1] / "utterances" / "en" / "contexts.yaml"


def field(said: str) -> Given:
    return Given(slot="field", value=said, said=said)


def asked(said: str, *names: str) -> object:
    stage = SuiteStage(load_suite(PLACES), "en")
    expectation = stage.expectation(stage.place("field"))
    known = expectation.slots[0].model_copy(update={"names": names})
    return one_slip_away(field(said), expectation.model_copy(update={"slots": (known,)}))


@pytest.mark.parametrize("said", ["Nroth field", "North feild", "Noth field", "North fields"])
def test_a_slip_is_asked_with_the_name_it_is_nearly(said: str) -> None:
    found = asked(said, "North field", "Mill Creek")
    assert isinstance(found, Either)
    assert [reading[0].value for reading in found.readings] == ["North field", said]


@pytest.mark.parametrize("said", ["North field", "South field", "North 41", "Mill Crest", "North"])
def test_another_name_stays(said: str) -> None:
    assert asked(said, "North field", "North 40", "Mill Creek") == field(said)


def test_the_choice_is_put_in_one_sentence_and_kept() -> None:
    stage = SuiteStage(load_suite(PLACES), "en")
    place = stage.place("field")
    book = place.state.book
    known = place.state.model_copy(update={"book": book.model_copy(update={"names": {"field": ("North field",)}})})
    turn = stage.say(replace(place, state=known), "Nroth field").turn
    assert turn.reply.text.splitlines()[-1] == "Which is it: North field or Nroth field?"
    kept = stage.say(replace(place, state=turn.state), "the first one").turn
    assert "Field: North field." in kept.reply.text
