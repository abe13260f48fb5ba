"""Questions with several ways to take a report, answered in the words they ask with."""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine.entries.phrases.vocabulary import load_vocabulary
from engine.entries.strict_reader import read
from engine.messages import Chosen, Reading, Utterance
from tests.dialog.test_laws import interpreter
from tests.dialog.test_shift import Night


def asked(text: str, minutes: int) -> Night:
    """A night in which a report left two ways open."""
    night = Night()
    night.now = night.shift.started + timedelta(minutes=minutes)
    night.say(text)
    assert night.state.dialog is not None
    assert night.state.dialog.questions[0].ways
    return night


@pytest.mark.parametrize("answer", ["refilled", "filled", "i filled them up"])
def test_refilled_answers_whether_they_were_refilled(answer: str) -> None:
    night = asked("all full", 60)
    night.say(answer)
    assert night.state.dialog is not None
    assert night.state.dialog.questions == ()
    assert all(one.gap or one.level.at == night.now for one in night.shift.ledger.accounts.values())


@pytest.mark.parametrize("answer", ["in all together", "together", "in all"])
def test_an_answer_to_one_question_is_none_to_the_next(answer: str) -> None:
    """Whether it went in together says nothing of whether the hoppers are full again."""
    night = asked("refilled all, thirty pounds", 250)
    night.say(answer)
    assert night.shift.fills is None
    assert night.state.dialog is not None
    assert [way.name for way in night.state.dialog.questions[0].ways] == ["full", "top"]


def test_a_choice_said_twice_in_one_breath_answers_one_question() -> None:
    night = asked("refilled all, thirty pounds", 250)
    twice = Reading(entries=(Chosen(index=1), Chosen(index=1)))
    turn = interpreter().take(night.state, twice, night.now)
    assert turn.state.dialog is not None
    assert [way.name for way in turn.state.dialog.questions[0].ways] == ["full", "top"]


def test_the_words_of_a_button_are_one_choice() -> None:
    night = asked("refilled all, thirty pounds", 250)
    expected = interpreter().expectation(night.state)
    heard = Utterance(id="b", conversation="c", text="In all together", language="en", said_at=night.now)
    assert read(heard, expected, load_vocabulary("en")).entries == (Chosen(index=1),)
