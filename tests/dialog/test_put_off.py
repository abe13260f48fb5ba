"""A look put off before it is due: it moves where that is later, and what goes by until then is said."""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine.reminders.reminder import Snooze
from tests.dialog.test_shift import Night


def night(minutes_before: float) -> Night:
    """A shift whose next look is due in so many minutes."""
    night = Night()
    night.say("all good")
    assert night.open is not None
    night.now = night.open - timedelta(minutes=minutes_before)
    return night


@pytest.mark.parametrize(("said", "minutes"), [("ten more minutes", 10), ("give me half an hour", 30)])
def test_a_look_that_is_due_sooner_moves(said: str, minutes: int) -> None:
    shift = night(5)
    due = shift.now + timedelta(minutes=minutes)
    turn = shift.say(said)
    assert turn.reminders == (Snooze("look", due),)
    assert shift.open == due
    assert "I ask again at" in turn.reply.text and "acres since the last look" in turn.reply.text


def test_a_look_that_is_due_later_stays_and_is_named() -> None:
    shift = night(11)
    due = shift.open
    turn = shift.say("ten more minutes")
    assert (turn.reminders, shift.open) == ((), due)
    assert "I ask again at" in turn.reply.text


def test_more_acres_than_may_be_lost_are_said() -> None:
    turn = night(5).say("give me two hours")
    assert "more than the 5 acres you accept" in turn.reply.text


def test_a_hopper_that_is_empty_before_is_named() -> None:
    shift = night(5)
    shift.say("row three two pounds left")
    assert "Hopper 3 is empty before that, by " in shift.say("give me an hour").reply.text
    assert "Hopper" not in shift.say("give me ten minutes").reply.text
    assert "Hopper" not in shift.say("all good").reply.text


def test_es_la_tolva_que_se_vacia_antes() -> None:
    shift = night(5)
    shift.say("speak spanish")
    shift.say("al surco tres le quedan dos libras")
    assert "La tolva 3 se vacía antes, a las " in shift.say("en una hora").reply.text
