"""A clock that jumps in a shift: it is asked, nothing is reckoned across it, and one answer sets it right."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.dialog.interpreter import Turn
from engine.shift.look_changes import wanted_look
from engine.shift.record.shift_state import ShiftState
from engine.shift.turn import BACK, SILENT
from tests.dialog.test_laws import OURS
from tests.dialog.test_shift import REPORTS, Night

HOUR = timedelta(hours=1)
ACRES_AN_HOUR = 40
"""More than the planter of these nights can do."""
YEARS = timedelta(days=56 * 365)
LONG = [timedelta(hours=13), timedelta(days=30), YEARS, timedelta(days=74 * 365)]
BEHIND = [-2 * HOUR, -3 * HOUR, timedelta(days=-2), -YEARS]


def ten_acres() -> Night:
    """An hour of planting, ten acres told."""
    night = Night()
    night.now = night.shift.started + HOUR
    night.say("ten acres done")
    return night


def after(night: Night, passed: timedelta, text: str) -> Turn:
    night.now += passed
    return night.say(text)


def minutes(night: Night, count: float, text: str) -> Turn:
    return after(night, timedelta(minutes=count), text)


def due(night: Night) -> datetime:
    found = wanted_look(night.state)
    assert found is not None
    return found


@pytest.mark.parametrize("by", BEHIND)
def test_a_clock_that_went_back_is_asked_and_the_shift_goes_on_by_its_own_time(by: timedelta) -> None:
    night = ten_acres()
    asked = after(night, by, "status").reply.text
    assert "10 acres so far" in asked
    assert "The clock jumped back" in asked
    assert asked.endswith("now?")
    assert night.planted == pytest.approx(10)
    minutes(night, 1, "yes")
    before = night.planted
    minutes(night, 5, "all good")
    assert night.planted > before, "planting goes on"
    assert "Next look" in minutes(night, 1, "status").reply.text
    assert night.planted < 13
    assert night.now < due(night) < night.now + HOUR, "the look is set on the clock of now"
    assert night.open == due(night), "and there is one time for it"


@pytest.mark.parametrize("by", LONG)
def test_after_a_long_silence_it_is_asked_whether_the_planter_stood(by: timedelta) -> None:
    night = ten_acres()
    asked = after(night, by, "status").reply.text
    assert "10 acres so far, 1 h 00 min" in asked
    assert "Did the planter stand all that time?" in asked
    minutes(night, 1, "yes")
    assert "10 acres so far" in night.say("status").reply.text
    minutes(night, 5, "all good")
    assert 10 < night.planted < 12
    assert night.now < due(night) < night.now + HOUR
    assert night.open == due(night)


def test_who_planted_all_the_time_says_no() -> None:
    night = ten_acres()
    after(night, timedelta(hours=13), "status")
    minutes(night, 0, "no")
    assert night.planted > 50
    assert "clock" not in minutes(night, 1, "status").reply.text


def test_the_same_is_asked_in_spanish() -> None:
    night = ten_acres()
    night.say("español")
    assert after(night, -3 * HOUR, "estado").reply.text.endswith("marca las 8:46 PM: ¿está bien esa hora?")
    assert "Sigo desde" in minutes(night, 1, "sí").reply.text
    assert "¿Estuvo parada la sembradora" in after(night, timedelta(days=2), "estado").reply.text


@pytest.mark.parametrize("answer", ["yes", "no"])
@pytest.mark.parametrize("by", [-3 * HOUR, timedelta(hours=13)])
def test_what_was_told_with_the_jump_waits_for_the_answer(by: timedelta, answer: str) -> None:
    night = ten_acres()
    assert after(night, by, "row five stopped").facts[0].kind != "noted"
    assert not night.shift.troubled
    told = after(night, timedelta(seconds=20), answer).reply.text
    assert "Row 5 stopped" in told
    assert set(night.shift.troubled) == {5}
    if answer == "yes":
        (stretch,) = night.shift.doubts
        assert stretch.planted.value <= 10.2, "no area is in doubt that was not planted"


def test_what_was_told_too_long_before_the_answer_is_to_be_told_anew() -> None:
    night = ten_acres()
    after(night, -3 * HOUR, "all good")
    assert "tell me how it is now" in minutes(night, 10, "status").reply.text
    looked = night.shift.looked
    minutes(night, 0, "yes")
    assert night.shift.looked == looked


def test_words_that_come_late_are_no_jump() -> None:
    night = ten_acres()
    text = after(night, timedelta(minutes=5) - BACK, "all good").reply.text
    assert "All good" in text and "clock" not in text


def test_a_night_without_a_word_in_a_pause_is_no_jump() -> None:
    night = ten_acres()
    minutes(night, 1, "lunch")
    assert "stand" not in after(night, SILENT + HOUR, "planting again").reply.text


def test_who_says_no_is_taken_as_said_last() -> None:
    night = ten_acres()
    after(night, -2 * HOUR, "all good")
    assert "All good" in after(night, timedelta(seconds=10), "no").reply.text
    assert night.shift.ahead == 0
    assert "clock" not in after(night, 2 * HOUR + timedelta(minutes=1), "status").reply.text


def test_scratch_that_takes_the_answer_back() -> None:
    night = ten_acres()
    after(night, -3 * HOUR, "status")
    minutes(night, 1, "yes")
    assert night.shift.ahead > 0
    assert (
        "The clock jumped back" in minutes(night, 1, "scratch that").reply.text + minutes(night, 1, "status").reply.text
    )
    assert night.shift.ahead == 0


def test_a_clock_that_comes_back_is_asked_once_more() -> None:
    night = ten_acres()
    after(night, -3 * HOUR, "status")
    minutes(night, 1, "yes")
    assert "Did the planter stand" in after(night, 3 * HOUR, "status").reply.text
    minutes(night, 1, "yes")
    assert night.shift.ahead == 0
    assert night.planted < 11
    assert night.now <= due(night) < night.now + HOUR


def test_times_that_are_said_are_those_of_the_clock_of_now() -> None:
    night = ten_acres()
    after(night, -3 * HOUR, "status")
    minutes(night, 1, "yes")
    minutes(night, 20, "status")
    assert "Row 5 stopped at 8:57 PM" in night.say("row five stopped ten minutes ago").reply.text
    assert "10 minutes more" not in night.say("status").reply.text


JUMPS = (-90, -180, 13 * 60, 3 * 24 * 60, -3 * 24 * 60, 56 * 365 * 1440, -56 * 365 * 1440)
PASSES = st.sampled_from((0, 3, 20, -30, *JUMPS))
SAID = st.sampled_from((*REPORTS, "yes", "status", "when is the next look", "done", "scratch that"))
TALK = st.lists(st.tuples(PASSES, SAID), min_size=1, max_size=12)


@settings(OURS)
@given(TALK)
def test_whatever_the_clock_does_no_area_is_made_of_a_jump(said: list[tuple[int, str]]) -> None:
    night = Night()
    night.now = night.shift.started
    passed = 0.0
    for count, text in said:
        assert minutes(night, count, text).reply.text.strip()
        passed += 0 if count in JUMPS else max(count, 0)
        if not isinstance(night.state.dialog and night.state.dialog.activity, ShiftState):
            return
        told = max((one.area.to("acre").value for one in night.shift.told), default=0.0)
        assert night.planted <= told + ACRES_AN_HOUR * passed / 60
        assert not night.shift.runs or night.open == due(night)


@settings(OURS)
@given(TALK, st.lists(st.sampled_from(("no", "the clock is right", "end of shift", "yes")), max_size=6))
def test_whatever_the_clock_does_and_is_answered_a_turn_is_answered(
    said: list[tuple[int, str]], more: list[str]
) -> None:
    night = Night()
    night.now = night.shift.started
    for place, (count, text) in enumerate(said):
        assert minutes(night, count, text).reply.text.strip()
        for answer in more[place : place + 1]:
            assert minutes(night, 1, answer).reply.speech.strip()
