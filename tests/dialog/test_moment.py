"""Which instant is meant by a time that was said, and what a shift makes of it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from engine.clock import Ago, ClockTime
from engine.quantities import Measure
from engine.reminders.local_time import LocalTime
from engine.shift.record.shift_facts import Noted
from engine.shift.reports.suspect_rows import latest
from engine.shift.reports.times import AHEAD, instant
from tests.dialog.test_shift import Night

CHICAGO = "America/Chicago"
ZONES = st.sampled_from([CHICAGO, "America/Hermosillo", "Europe/Madrid", "UTC"])
NOWS = st.datetimes(datetime(2026, 1, 1), datetime(2027, 12, 31)).map(lambda one: one.replace(tzinfo=UTC))


@pytest.mark.parametrize(
    ("now", "said", "meant"),
    [
        ("2026-05-02T06:30Z", ClockTime(hour=1, minute=10, twice=True), "2026-05-02T06:10Z"),
        ("2026-05-02T06:00Z", ClockTime(hour=1, minute=10, twice=True), "2026-05-01T18:10Z"),
        ("2026-05-02T06:00Z", ClockTime(hour=1, minute=10), "2026-05-01T06:10Z"),
        ("2026-05-02T04:50Z", ClockTime(hour=11, minute=40, twice=True), "2026-05-02T04:40Z"),
        ("2026-05-02T05:10Z", ClockTime(hour=23, minute=40), "2026-05-02T04:40Z"),
        ("2026-05-02T06:08Z", ClockTime(hour=1, minute=10, twice=True), "2026-05-02T06:08Z"),
        ("2026-11-01T06:50Z", ClockTime(hour=1, minute=15, twice=True), "2026-11-01T06:15Z"),
        ("2026-11-01T07:05Z", ClockTime(hour=1, minute=15, twice=True), "2026-11-01T06:15Z"),
        ("2026-11-01T07:30Z", ClockTime(hour=1, minute=15, twice=True), "2026-11-01T07:15Z"),
        ("2026-03-08T08:20Z", ClockTime(hour=1, minute=50, twice=True), "2026-03-08T07:50Z"),
        ("2026-03-08T08:20Z", ClockTime(hour=2, minute=30, twice=True), None),
        ("2026-03-08T08:20Z", Ago(length=Measure(value=40, unit="min")), "2026-03-08T07:40Z"),
    ],
)
def test_the_latest_that_has_passed_is_meant(now: str, said: ClockTime | Ago, meant: str | None) -> None:
    expected = datetime.fromisoformat(meant) if meant else None
    assert instant(said, datetime.fromisoformat(now), CHICAGO) == expected


@settings(max_examples=100, deadline=None)
@given(NOWS, st.integers(0, 11 * 60), ZONES)
def test_a_time_read_off_the_wall_is_never_taken_for_an_earlier_one(now: datetime, ago: int, zone: str) -> None:
    """Whatever the clock did meanwhile: what it showed in the last eleven hours is found again, or a later showing."""
    then = (now - timedelta(minutes=ago)).replace(second=0, microsecond=0)
    shown = LocalTime.of(then, zone).local
    found = instant(ClockTime(hour=shown.hour % 12, minute=shown.minute, twice=True), now, zone)
    assert found is not None
    assert then <= found <= now
    again = LocalTime.of(found, zone).local
    assert (again.hour % 12, again.minute) == (shown.hour % 12, shown.minute) or now - found <= AHEAD


def night(*told: tuple[float, str]) -> Night:
    one = Night()
    one.now = one.shift.started
    for minutes, text in told:
        one.now += timedelta(minutes=minutes)
        one.say(text)
    return one


def worked(one: Night) -> float:
    """Minutes without pauses."""
    return one.shift.timeline.worked(one.shift.last).total_seconds() / 60


def minutes(one: Night, moment: datetime) -> float:
    return (moment - one.shift.started).total_seconds() / 60


@pytest.mark.parametrize("since", [5, 35])
def test_the_operators_own_time_begins_the_doubt_before_or_after_the_last_proof(since: int) -> None:
    one = night((20, "all good"), (20, f"row five stopped {40 - since} minutes ago"))
    (doubt,) = latest(one.shift.doubts, one.shift.timeline)
    assert [minutes(one, moment) for moment in (doubt.since, doubt.until)] == [since, 40]
    assert doubt.planted.value == pytest.approx(one.planted * (40 - since) / 40)


def test_another_time_for_the_same_row_takes_the_place_of_the_first() -> None:
    one = night((20, "row five stopped"), (5, "row five stopped ten minutes ago"), (5, "row five runs again"))
    (doubt,) = latest(one.shift.doubts, one.shift.timeline)
    assert [minutes(one, moment) for moment in (doubt.since, doubt.until)] == [15, 30]


def test_feeding_again_at_a_time_ends_the_doubt_there() -> None:
    one = night((20, "row five stopped ten minutes ago"), (10, "row five runs again five minutes ago"))
    (doubt,) = latest(one.shift.doubts, one.shift.timeline)
    assert [minutes(one, moment) for moment in (doubt.since, doubt.until)] == [10, 25]
    assert minutes(one, one.shift.proofs[5]) == 25
    assert not one.shift.troubled


def test_a_row_cannot_feed_again_before_it_stopped() -> None:
    one = night((20, "row five stopped five minutes ago"), (5, "row five runs again fifteen minutes ago"))
    assert set(one.shift.troubled) == {5}


def test_a_catch_that_is_right_ends_the_doubt_too() -> None:
    one = night((20, "row five stopped"), (10, "row five caught seventy nine grams"))
    (doubt,) = latest(one.shift.doubts, one.shift.timeline)
    assert minutes(one, doubt.until) == 30


def test_what_all_hoppers_took_together_proves_nothing_of_one_row() -> None:
    one = night((30, "refilled all, one bag"))
    assert set(one.shift.proofs.values()) == {one.shift.started}


@pytest.mark.parametrize("said", ["lunch", "end of shift"])
def test_planting_that_stopped_in_the_past_takes_its_area_back(said: str) -> None:
    straight, late = night((20, said)), night((20, "all good"), (10, f"{said} ten minutes ago"))
    assert late.planted == pytest.approx(straight.planted)
    assert worked(late) == worked(straight) == 20
    assert late.open is None


def test_planting_that_went_on_in_the_past_counts_from_there() -> None:
    one = night((20, "lunch"), (30, "planting again ten minutes ago"), (10, "status"))
    assert minutes(one, one.shift.planting_since) == 40
    one.say("lunch")
    assert worked(one) == 40


def test_a_pause_does_not_begin_before_planting_last_went_on() -> None:
    one = night((20, "lunch"), (10, "planting again"), (10, "lunch fifteen minutes ago"))
    assert one.shift.runs


def test_acres_that_were_told_stay_where_a_pause_began_before_them() -> None:
    one = night((30, "three acres done"), (10, "lunch twenty minutes ago"))
    assert one.planted == pytest.approx(3)
    assert one.shift.stood is not None
    assert minutes(one, one.shift.stood) == 20


@pytest.mark.parametrize(
    "said", ["row five stopped two hours ago", "lunch since 11:30 am", "row five high at 3 pm", "refilled at noon"]
)
def test_a_moment_outside_the_shift_is_not_kept(said: str) -> None:
    one = night((20, "all good"))
    turn = one.say(said)
    assert not any(isinstance(fact, Noted) for fact in turn.facts)
    assert "Not kept" in turn.reply.text


def test_a_hopper_that_ran_empty_while_planting_is_a_row_that_stopped() -> None:
    one = night((30, "all good"), (30, "row five ran out"), (5, "row five refilled forty pounds"))
    assert set(one.shift.troubled) == {5}
    one.say("row five runs again")
    (doubt,) = latest(one.shift.doubts, one.shift.timeline)
    assert minutes(one, doubt.until) == 65
    assert doubt.since < doubt.until


def test_hoppers_that_are_empty_at_the_end_are_no_trouble() -> None:
    one = night((30, "end of shift"), (1, "row five is empty"))
    assert not one.shift.troubled
