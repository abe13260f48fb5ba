"""The bell of re-entry in a conversation: when it is set, what moves it, and what calls it off."""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine.reminders.reminder import Reminder
from engine.reminders.schedule import Schedule
from tests.helpers.applying import EVENING, NORTH, PRODUCT, Talk, loading, loading_again, night, prepared, told

ENDED = ((240, "twenty acres done"), (240, "end of shift"), (241, "all twenty seven pounds left"), (242, "done"))
OVER = EVENING + timedelta(hours=52)
"""Forty-eight hours after planting ended."""


def bells(talk: Talk) -> dict[str, float]:
    """Hours from the evening to each bell that waits, by its name."""
    return {one.name.removeprefix("reentry "): (one.due_at - EVENING) / timedelta(hours=1) for one in waiting(talk)}


def waiting(talk: Talk) -> tuple[Reminder, ...]:
    return tuple(one for one in Schedule(talk.database).waiting("c") if one.name.startswith("reentry"))


def planted() -> Talk:
    talk = told()
    night(talk, ENDED, before=loading())
    return talk


def retold(talk: Talk, hours: str, at: timedelta) -> None:
    """The label told again with another interval."""
    talk.say_all(["product", PRODUCT[1], f"the re-entry interval is {hours}", "yes"], EVENING + at)


def test_it_is_set_where_planting_ends_for_when_the_interval_has_passed() -> None:
    talk = told()
    night(talk, ENDED[:1], before=loading())
    assert bells(talk) == {}
    for minutes, text in ENDED[1:]:
        talk.say(text, EVENING + timedelta(minutes=minutes))
        assert bells(talk) == {"north field": 52.0}
    (bell,) = waiting(talk)
    assert bell.once and bell.due_at == OVER


def test_a_label_without_an_interval_rings_nothing() -> None:
    talk = Talk()
    talk.say_all(["skip" if text == "48 hours" else text for text in PRODUCT], EVENING - timedelta(hours=7))
    talk.say_all(NORTH, EVENING - timedelta(hours=6))
    talk.say_all(prepared(), EVENING - timedelta(minutes=20))
    night(talk, ENDED, before=loading())
    assert bells(talk) == {}


def test_the_end_that_was_taken_back_calls_it_off() -> None:
    talk = told()
    night(talk, [*ENDED[:2], (245, "scratch that")], before=loading())
    assert bells(talk) == {}
    talk.say("end of shift", EVENING + timedelta(hours=5))
    assert bells(talk) == {"north field": 53.0}


def test_an_end_that_was_earlier_moves_it() -> None:
    talk = told()
    night(talk, [(240, "we stopped at ten thirty"), (241, "end of shift")], before=loading())
    assert bells(talk) == {"north field": pytest.approx(48 + 205 / 60)}


def test_another_interval_moves_it_and_one_that_has_passed_rings_at_once() -> None:
    talk = planted()
    retold(talk, "72 hours", timedelta(hours=6))
    assert bells(talk) == {"north field": 76.0}
    retold(talk, "4 hours", timedelta(hours=20))
    assert bells(talk) == {"north field": 8.0}
    assert Schedule(talk.database).next_due() == EVENING + timedelta(hours=8)


def test_each_field_that_is_left_has_its_own_and_who_comes_back_ends_it() -> None:
    talk = told()
    night(talk, [(60, "five acres done"), (60, "field is South")], before=loading())
    assert bells(talk) == {"north field": 49.0}
    night(talk, [(120, "ten acres done"), (120, "field is North field")])
    assert bells(talk) == {"south": 50.0}
    night(talk, ENDED)
    assert bells(talk) == {"south": 50.0, "north field": 52.0}


def test_a_name_that_is_put_right_at_once_leaves_no_bell() -> None:
    talk = told()
    night(talk, [(0, "field is South"), (60, "five acres done")], before=loading())
    assert bells(talk) == {}


def test_treated_again_it_is_off_and_comes_back_later() -> None:
    talk = planted()
    talk.say_all(loading_again(), EVENING + timedelta(hours=24, minutes=1))
    assert bells(talk) == {}
    night(talk, ENDED, begun=EVENING + timedelta(hours=24))
    assert bells(talk) == {"north field": 76.0}


def test_a_later_treatment_with_a_shorter_time_does_not_bring_it_early() -> None:
    talk = planted()
    other = ["12 hours" if text == "48 hours" else "Otero 5" if text == PRODUCT[1] else text for text in PRODUCT]
    talk.say_all(other, EVENING + timedelta(hours=5))
    talk.say_all(loading_again(), EVENING + timedelta(hours=6, minutes=1))
    replies = night(talk, [(30, "product is Otero 5"), *ENDED], begun=EVENING + timedelta(hours=6))
    assert "Keep out of North field until Apr 24, 1:35 AM" in replies[-1]
    assert "Re-entry interval of North field runs until Apr 24, 1:35 AM" in replies[-1]
    assert bells(talk) == {"north field": 54.5}


def test_renamed_it_has_the_new_name() -> None:
    talk = planted()
    talk.say_all(["rename", "North field", "Ridge 40", "yes"], EVENING + timedelta(hours=5))
    assert set(bells(talk)) == {"ridge 40"}


def test_the_bell_and_what_was_told_are_the_same_moment() -> None:
    talk = told()
    reply = night(talk, ENDED, before=loading())[-1]
    assert "Keep out of North field until Apr 23, 11:05 PM" in reply
    (bell,) = waiting(talk)
    assert f"{bell.wall.local:%b %d, %I:%M %p}" == "Apr 23, 11:05 PM"
