"""What a shift works out from acres and hoppers that are told late, in pieces, or not at all."""

from __future__ import annotations

from datetime import timedelta

import pytest

from engine.dialog.interpreter import Turn
from engine.shift.record.shift_facts import RateFound
from engine.shift.reports.suspect_rows import latest
from tests.dialog.test_shift import Night

WEIGHED = "row {} filled up with {} pounds"


def at_start() -> Night:
    """A night in the minute in which planting begins."""
    night = Night()
    night.now = night.shift.started
    return night


def refill(night: Night, pounds: dict[int, float]) -> Turn:
    return night.say(", ".join(WEIGHED.format(row, mass) for row, mass in pounds.items()))


def after(night: Night, minutes: float, text: str) -> Turn:
    night.now += timedelta(minutes=minutes)
    return night.say(text)


def rates(turn: Turn) -> list[RateFound]:
    return [fact for fact in turn.facts if isinstance(fact, RateFound)]


def test_a_rate_by_the_clock_is_told_as_such_and_set_right_once_the_acres_are_told() -> None:
    night = at_start()
    assert "Is that right?" in after(night, 60, "all twenty pounds left").reply.text
    assert not night.shift.rates
    night.say("yes")
    (by_clock,) = night.shift.rates
    assert by_clock.reckoned
    turn = after(night, 1, "ten acres done")
    (found,) = rates(turn)
    assert (found.reckoned, found.corrects, night.shift.rates) == (False, True, (found,))
    assert found.used.to("lb").value == pytest.approx(8 * 20)
    assert found.area.value == pytest.approx(10 * 60 / 61), "one minute was planted after it"
    assert found.rate.value == pytest.approx(160 / found.area.value)


def test_acres_that_are_told_first_need_no_correction() -> None:
    night = at_start()
    turn = after(night, 60, "nine acres done, all thirty four pounds left")
    (found,) = rates(turn)
    assert (found.reckoned, found.corrects, found.area.value) == (False, False, pytest.approx(9))
    assert rates(after(night, 10, "eleven acres done")) == []


def test_what_was_filled_and_proved_by_the_clock_moves_with_the_acres() -> None:
    """Half of the reckoned area was done: all that was reckoned since the last report halves."""
    night = at_start()
    after(night, 30, "refilled all, one bag")
    after(night, 30, "row five stopped")
    before, was = night.shift, night.shift.timeline
    after(night, 0, f"{night.planted / 2:.6f} acres done")
    shift, now = night.shift, night.shift.timeline
    for at in (before.filled[1].at, before.looked):
        assert now.planted(at).value == pytest.approx(was.planted(at).value / 2, rel=1e-4)
    (doubt,) = latest(shift.doubts, now)
    assert doubt.planted.value == pytest.approx(before.doubts[0].planted.value / 2, rel=1e-4)
    assert doubt.short.value == pytest.approx(before.doubts[0].short.value / 2, rel=1e-4)


def test_a_row_that_was_never_said_to_feed_again_is_in_doubt_until_the_end() -> None:
    night = at_start()
    after(night, 30, "row five stopped")
    turn = after(night, 60, "end of shift")
    (doubt,) = latest(night.shift.doubts, night.shift.timeline)
    assert (doubt.rows, doubt.until) == ((5,), night.shift.started + timedelta(minutes=90))
    assert "Row 5 never said to feed again." in turn.reply.text


def test_a_mended_row_is_not_in_doubt_until_the_end() -> None:
    night = at_start()
    after(night, 30, "row five stopped")
    after(night, 5, "row five runs again")
    after(night, 60, "end of shift")
    (doubt,) = latest(night.shift.doubts, night.shift.timeline)
    assert doubt.until == night.shift.started + timedelta(minutes=35)


def test_two_refills_together_name_a_row_that_one_alone_does_not() -> None:
    """Used of 40 lb hoppers at 5 lb an acre: 10 lb a row in 16 acres, and row five less each time."""
    night, short = at_start(), dict.fromkeys(range(1, 9), 10.0) | {5: 7.2}
    after(night, 120, "sixteen acres done")
    first = rates(refill(night, short))
    after(night, 120, "thirty two acres done")
    second = rates(refill(night, short))
    assert [one.odd for one in (*first, *second)] == [(), (5,)]
    assert second[0].chances[5] > first[0].chances[5]


def test_the_same_acres_by_the_clock_are_less_sure() -> None:
    """A machine that did a fifth less than reckoned does not have every row, and none of them, under-feed."""
    told, untold = Night(), at_start()
    after(told, 90, "nine acres done")
    night_told = rates(refill(told, dict.fromkeys(range(1, 9), 7.0)))[0]
    after(untold, 90, "status")
    night_untold = rates(refill(untold, dict.fromkeys(range(1, 9), 7.0)))[0]
    assert night_told.odd == night_untold.odd == ()
    assert night_untold.reckoned
    assert not night_told.reckoned
    assert night_untold.outcome == "on_target"
    assert night_told.outcome == "too_much"


@pytest.mark.parametrize(
    ("said", "asked"),
    [
        ((), "How many acres are done, and what is left in the hoppers?"),
        (("nine acres done",), "What is left in the hoppers?"),
        (("all thirty four pounds left",), "How many acres are done?"),
        (("nine acres done", "all thirty four pounds left"), "Say “done” to close the shift."),
    ],
)
def test_the_end_asks_for_what_is_not_known(said: tuple[str, ...], asked: str) -> None:
    night = at_start()
    reply = after(night, 90, "end of shift").reply.text
    for text in said:
        reply = night.say(text).reply.text
    assert reply.splitlines()[-1].startswith(asked)


def test_a_look_that_is_overdue_is_not_told_as_one_to_come() -> None:
    night = at_start()
    due = night.shift.look and night.shift.look.due
    assert due is not None
    reply = after(night, 50, "nonsense").reply.text
    assert reply.splitlines()[-1].startswith("Look at the hoppers now: it was due at ")


def test_acres_of_another_field_are_not_taken_from_the_first() -> None:
    night = at_start()
    assert "of the field left" in after(night, 60, "ten acres done").reply.text
    after(night, 10, "field is south")
    assert "of the field left" not in after(night, 10, "eleven acres done").reply.text


def test_a_proof_never_lies_in_a_pause() -> None:
    """An hour, a pause of half an hour, forty minutes: what a look cannot see reaches back over the pause."""
    night = at_start()
    after(night, 60, "lunch")
    stood = night.now
    after(night, 30, "planting again")
    after(night, 40, "all good")
    assert stood - timedelta(minutes=10) < night.shift.proofs[5] < stood
    after(night, 2, "row five stopped")
    (doubt,) = latest(night.shift.doubts, night.shift.timeline)
    assert doubt.since == night.shift.proofs[5]
