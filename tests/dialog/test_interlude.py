"""A pause that is told once it is over comes to what it would have come to, had it been told in time."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.messages import Language
from engine.shift.record.shift_state import ShiftState
from engine.shift.reports.suspect_rows import latest
from tests.dialog.test_shift import EVENING
from tests.dialog.test_shift_told import told

REPORTS = ("all good", "row five stopped", "row five runs again", "row six is high", "all twenty pounds left",
           "row two twelve pounds left", "refilled all", "new field West")  # fmt: skip
ACRES = ("fifty acres done", "sixty acres done")


def clock(minutes: float) -> str:
    return (EVENING + timedelta(minutes=minutes)).strftime("%H:%M")


def shifts(since: int, until: int, said: list[tuple[int, str]], end: int) -> tuple[ShiftState, ShiftState]:
    """The shift with the pause told in time, and with it told at its end."""
    words = sorted([*said, (since, "lunch"), (until, "planting again")], key=lambda one: one[0])
    in_time, _ = told("en", *words, (end, "status"))
    late, reply = told("en", *said, (end, f"lunch from {clock(since)} to {clock(until)}"))
    assert "taken out" in reply
    in_time.say("row one is high")
    late.say("row one is high")
    return in_time.shift, late.shift


def comes_to_the_same(one: ShiftState, other: ShiftState) -> None:
    comes, came = other.timeline, one.timeline
    assert comes.planted(other.last).value == pytest.approx(came.planted(one.last).value, abs=0.01)
    assert comes.worked(other.last).total_seconds() == pytest.approx(came.worked(one.last).total_seconds(), abs=1)
    assert other.efficiency == pytest.approx(one.efficiency, abs=1e-4)
    assert comes.planted(other.entered).value == pytest.approx(came.planted(one.entered).value, abs=0.01)
    for row in one.rows:
        proved, before = comes.planted(other.proofs[row]).value, came.planted(one.proofs[row]).value
        assert proved == pytest.approx(before, abs=0.01)
        ours, theirs = other.ledger.accounts[row].level.at, one.ledger.accounts[row].level.at
        assert comes.planted(ours).value == pytest.approx(came.planted(theirs).value, abs=0.01)
    found, wanted = (
        sorted((doubt.rows, doubt.planted.value) for doubt in latest(s.doubts, s.timeline)) for s in (other, one)
    )
    assert [rows for rows, _ in found] == [rows for rows, _ in wanted]
    assert [area for _, area in found] == pytest.approx([area for _, area in wanted], abs=0.02)


@pytest.mark.parametrize(
    "said",
    [
        [],
        [(20, "all good"), (70, "row five is high")],
        [(20, "row five stopped"), (80, "row five runs again")],
        [(10, "fifty acres done")],
        [(80, "fifty acres done")],
        [(10, "forty acres done"), (90, "sixty acres done")],
        [(10, "forty acres done"), (70, "row five stopped"), (90, "fifty acres done"), (100, "new field West")],
        [(35, "row five caught seventy nine grams"), (45, "row five stopped"), (50, "row five runs again")],
        [(5, "refilled all"), (95, "all twenty pounds left")],
    ],
)
def test_it_comes_to_the_same(said: list[tuple[int, str]]) -> None:
    comes_to_the_same(*shifts(30, 60, said, 120))


@settings(max_examples=10, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    st.lists(st.tuples(st.integers(1, 119), st.sampled_from((*REPORTS, *ACRES))), max_size=6),
    st.integers(1, 60),
    st.integers(1, 58),
)
def test_nothing_is_planted_in_it_and_the_past_stays_in_order(
    said: list[tuple[int, str]], since: int, length: int
) -> None:
    until = since + length
    words = sorted(said, key=lambda one: one[0])
    night, reply = told("en", *words, (120, f"lunch from {clock(since)} to {clock(until)}"))
    timeline = night.shift.timeline
    ticks = [EVENING + timedelta(minutes=tick) for tick in range(-10, 125, 3)]
    for one, two in pairwise(ticks):
        assert timeline.worked(one) <= timeline.worked(two)
        assert timeline.planted(one).value <= timeline.planted(two).value + 1e-9
    areas = [one.area.value for one in night.shift.told]
    assert areas == sorted(areas)
    if "taken out" in reply:
        first, last = (EVENING + timedelta(minutes=minutes) for minutes in (since, until))
        assert timeline.between(first, last).value < 1e-6
        assert timeline.settled(first + (last - first) / 2) <= first


@pytest.mark.parametrize(
    ("language", "said", "answered"),
    [
        ("en", "we had lunch from three to half past three", "Pause from 3:00 AM to 3:30 AM taken out: "),
        ("es", "comimos de tres a tres y media", "Pausa de las 3:00 AM a las 3:30 AM descontada. "),
    ],
)
def test_it_is_read_back(language: Language, said: str, answered: str) -> None:
    night, reply = told(language, (120, said))
    assert answered in reply
    assert "{" not in reply
    assert night.shift.runs


@pytest.mark.parametrize(
    ("said", "answered"),
    [
        ("lunch from 4:00 to 5:30", "is not between"),
        ("lunch from 3:30 to 3:30", "is not between"),
    ],
)
def test_one_that_cannot_have_been_is_not_kept(said: str, answered: str) -> None:
    night, reply = told("en", (120, said))
    assert answered in reply
    assert night.shift.pauses == ()


def test_one_in_which_acres_were_planted_is_not_kept() -> None:
    _, reply = told("en", (20, "forty acres done"), (50, "forty five acres done"), (90, "lunch from 2:35 to 3:05"))
    assert "Not kept" in reply


def test_a_pause_that_is_still_noted_ends_when_it_is_said_to_have_been_over() -> None:
    night, reply = told("en", (30, "lunch"), (90, "we had lunch from quarter to three to quarter past three"))
    assert "Planting again from 3:15 AM." in reply
    assert night.shift.planting_since == EVENING + timedelta(minutes=60)
    earlier, _ = told("en", (30, "lunch"), (90, "we had lunch from half past two to quarter past three"))
    assert earlier.planted < night.planted


def test_what_was_taken_out_may_be_scratched() -> None:
    plain, _ = told("en", (120, "all good"))
    night, _ = told("en", (120, "lunch from 3:00 to 3:30"), (120, "scratch that"), (120, "all good"))
    assert night.planted == pytest.approx(plain.planted)


@pytest.mark.parametrize(
    ("language", "said", "looked", "answered"),
    [
        ("en", "we stopped from {before} to {now}", "all good", "taken out"),
        ("es", "estuvimos parados de las {before} a las {now}", "todo bien", "descontada"),
    ],
)
def test_an_hour_that_a_clock_jumped_over_is_taken_out_as_the_notice_of_it_says(
    language: Language, said: str, looked: str, answered: str
) -> None:
    jumped, reply = told(language, (10, looked), (72, said.format(before=clock(12), now=clock(72))))
    right, _ = told(language, (10, looked), (12, looked))
    assert answered in reply
    jumped.say(looked)
    right.say(looked)
    one, other = (each.shift.timeline.worked(each.shift.last).total_seconds() for each in (jumped, right))
    assert one == pytest.approx(other, abs=1)
    assert jumped.planted == pytest.approx(right.planted, abs=0.01)
