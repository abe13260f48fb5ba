from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import OutOfDomain
from engine.quantities import measure, quantity
from engine.reminders.rules import (
    AcreReport,
    Caution,
    Decider,
    Look,
    Pace,
    Strain,
    first_run_out,
    learned_efficiency,
    next_look,
    run_out,
)

# Iowa State PM 696 / A3-24: 40 ft at 6 mph and 70 % plants 20.4 acres an hour (exactly 20.36).
PACE = Pace(quantity(6, "mph"), quantity(40, "ft"), quantity(70, "%"))
FIVE = Caution(quantity(5, "acre"), late_from=None, long_after=None)
NOON = datetime(2027, 4, 21, 12, 0)
FRESH = timedelta(0)


def minutes(length: timedelta) -> float:
    return length.total_seconds() / 60


def acres(look: Look) -> float:
    return measure(look.area, "acre").value


def test_the_pace_of_the_published_example() -> None:
    assert measure(PACE.area(timedelta(hours=1)), "acre").value == pytest.approx(20.4, abs=0.05)


def test_the_acres_decide() -> None:
    look = next_look(PACE, FIVE, NOON, FRESH)
    assert (look.decided_by, look.tightened) == (Decider.ACRES, ())
    assert minutes(look.interval) == pytest.approx(5 / 20.3636 * 60, rel=1e-4)
    assert acres(look) == pytest.approx(5)


def test_the_first_empty_hopper_decides() -> None:
    look = next_look(PACE, FIVE, NOON, FRESH, first_run_out=timedelta(minutes=10))
    assert (look.decided_by, minutes(look.interval)) == (Decider.RUN_OUT, pytest.approx(8))
    assert acres(look) == pytest.approx(20.3636 * 8 / 60, rel=1e-4)


def test_the_growers_own_limit_decides() -> None:
    look = next_look(PACE, replace(FIVE, own=timedelta(minutes=12)), NOON, FRESH, timedelta(hours=1))
    assert (look.decided_by, minutes(look.interval)) == (Decider.OWN, 12)


def test_never_below_the_floor() -> None:
    look = next_look(PACE, FIVE, NOON, FRESH, first_run_out=FRESH)
    assert (look.decided_by, look.interval) == (Decider.FLOOR, timedelta(minutes=5))


@pytest.mark.parametrize(
    ("clock", "late"),
    [("21:30", False), ("21:46", True), ("23:59", True), ("00:05", True), ("05:40", True), ("05:46", False)],
)
def test_looks_come_closer_in_the_night(clock: str, late: bool) -> None:
    """The look itself, a quarter of an hour away, is what is late or not."""
    caution = replace(FIVE, late_from=time(22), late_until=time(6))
    look = next_look(PACE, caution, datetime.fromisoformat(f"2027-04-21T{clock}"), FRESH)
    assert look.tightened == ((Strain.LATE,) if late else ())
    assert acres(look) == pytest.approx(5 * 0.75 if late else 5)


def test_a_late_span_by_day() -> None:
    caution = replace(FIVE, late_from=time(1), late_until=time(5))
    assert next_look(PACE, caution, NOON, FRESH).tightened == ()
    assert next_look(PACE, caution, NOON.replace(hour=3), FRESH).tightened == (Strain.LATE,)


def test_looks_come_closer_late_in_a_long_shift() -> None:
    caution = Caution(quantity(5, "acre"))
    assert next_look(PACE, caution, NOON, timedelta(hours=7)).tightened == ()
    assert next_look(PACE, caution, NOON, timedelta(hours=8)).tightened == (Strain.LONG,)
    both = next_look(PACE, caution, NOON.replace(hour=23), timedelta(hours=9))
    assert both.tightened == (Strain.LATE, Strain.LONG)
    assert acres(both) == pytest.approx(5 * 0.75**2)
    assert both.decided_by is Decider.ACRES


@given(st.floats(0.5, 40), st.floats(1, 12), st.integers(0, 23), st.floats(0, 16), st.floats(0.1, 20))
def test_no_look_lets_more_be_lost_than_the_grower_said(
    lost: float, mph: float, hour: int, shift: float, empty: float
) -> None:
    pace = replace(PACE, speed=quantity(mph, "mph"))
    caution = Caution(quantity(lost, "acre"), floor=timedelta(0))
    look = next_look(pace, caution, NOON.replace(hour=hour), timedelta(hours=shift), timedelta(hours=empty))
    assert acres(look) <= lost * (1 + 1e-9)
    assert look.interval <= timedelta(hours=empty)


def test_the_hopper_that_is_empty_first() -> None:
    """12 rows at 30 in and 8.712 lb/acre: 29.04 lb per hopper last 40 acres of the machine (exact, from the unit
    definitions): at 5 mph and 65 % that is 40 / 11.8182 hours."""
    pace = Pace(quantity(5, "mph"), quantity(360, "in"), quantity(65, "%"))
    left = {row: quantity(29.04, "lb") for row in range(1, 13)}
    rate, spacing = quantity(8.712, "lb/acre"), quantity(30, "in")
    times = run_out(left, rate, spacing, pace.speed, pace.efficiency)
    assert measure(times[7], "h").value == pytest.approx(40 / (30 * 5 * 0.65 / 8.25), rel=1e-9)
    found = first_run_out({**left, 5: quantity(10, "lb")}, rate, pace, spacing)
    assert found is not None
    assert (found[0], minutes(found[1])) == (5, pytest.approx(measure(times[5], "min").value * 10 / 29.04))
    assert first_run_out({}, rate, pace, spacing) is None


def test_efficiency_is_learned_from_what_was_planted() -> None:
    believed = quantity(65, "%")
    speed, width = quantity(6, "mph"), quantity(40, "ft")
    full = 40 * 6 / 8.25

    def learned(*reports: AcreReport) -> float:
        return measure(learned_efficiency(believed, reports, speed, width), "%").value

    same = AcreReport(quantity(full * 0.65 * 2, "acre"), timedelta(hours=2))
    slow = AcreReport(quantity(full * 0.45 * 3, "acre"), timedelta(hours=3))
    assert learned() == pytest.approx(65)
    assert learned(same) == pytest.approx(65)
    assert learned(slow) == pytest.approx(55)
    assert 45 < learned(slow, slow, slow) < learned(slow, slow) < 55
    assert learned(AcreReport(quantity(900, "acre"), timedelta(hours=1))) == 100


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: next_look(replace(PACE, speed=quantity(0, "mph")), FIVE, NOON, FRESH),
        lambda: next_look(PACE, replace(FIVE, area=quantity(0, "acre")), NOON, FRESH),
        lambda: next_look(replace(PACE, efficiency=quantity(120, "%")), FIVE, NOON, FRESH),
        lambda: run_out(
            {1: quantity(-1, "lb")}, quantity(5, "lb/acre"), quantity(30, "in"), PACE.speed, PACE.efficiency
        ),
        lambda: learned_efficiency(quantity(65, "%"), (), quantity(6, "mph"), quantity(40, "ft"), FRESH),
    ],
)
def test_what_has_no_meaning(wrong: object) -> None:
    with pytest.raises(OutOfDomain):
        wrong()  # type: ignore[operator]


@given(st.floats(2, 40), st.floats(1, 12), st.floats(0, 1), st.floats(0, 4))
def test_what_goes_by_unseen_and_unanswered_comes_off_the_acres(
    lost: float, mph: float, unseen: float, minutes_late: float
) -> None:
    pace = replace(PACE, speed=quantity(mph, "mph"))
    answer = timedelta(minutes=minutes_late)
    caution = replace(FIVE, area=quantity(lost, "acre"), unseen=quantity(unseen, "acre"), answer=answer)
    look = next_look(pace, caution, NOON, FRESH)
    if look.decided_by is Decider.FLOOR:
        assert look.interval == caution.floor
    else:
        whole = look.area + quantity(unseen, "acre") + pace.area(answer)
        assert whole.to("acre").magnitude == pytest.approx(lost, rel=1e-6)


def test_more_unseen_than_may_be_lost_leaves_the_floor() -> None:
    look = next_look(PACE, replace(FIVE, unseen=quantity(5.5, "acre")), NOON, FRESH)
    assert (look.decided_by, look.interval) == (Decider.FLOOR, FIVE.floor)
    with pytest.raises(OutOfDomain):
        next_look(PACE, replace(FIVE, unseen=quantity(-1, "acre")), NOON, FRESH)


@pytest.mark.parametrize(
    ("clock", "late"),
    [("21:29", False), ("21:30", True), ("05:29", True), ("05:30", False), ("21:00", False), ("05:31", False)],
)
def test_a_night_begins_with_its_first_minute_and_ends_before_its_last(clock: str, late: bool) -> None:
    """From 22:00 to 6:00 unless the grower says otherwise; the look is half an hour away."""
    caution = Caution(quantity(50, "acre"), own=timedelta(minutes=30), long_after=None)
    look = next_look(PACE, caution, datetime.fromisoformat(f"2027-04-21T{clock}"), FRESH)
    assert look.tightened == ((Strain.LATE,) if late else ())


@pytest.mark.parametrize(("clock", "late"), [("00:29", False), ("00:30", True), ("04:29", True), ("04:30", False)])
def test_a_span_by_day_begins_and_ends_alike(clock: str, late: bool) -> None:
    caution = replace(FIVE, area=quantity(50, "acre"), own=timedelta(minutes=30), late_from=time(1), late_until=time(5))
    look = next_look(PACE, caution, datetime.fromisoformat(f"2027-04-21T{clock}"), FRESH)
    assert look.tightened == ((Strain.LATE,) if late else ())


def test_a_span_that_ends_where_it_begins_is_none() -> None:
    caution = replace(FIVE, late_from=time(3), late_until=time(3))
    assert all(next_look(PACE, caution, NOON.replace(hour=hour), FRESH).tightened == () for hour in range(24))


def test_a_shift_is_long_after_its_eighth_hour_and_not_with_it() -> None:
    caution = Caution(quantity(50, "acre"), own=timedelta(minutes=30), late_from=None)
    assert next_look(PACE, caution, NOON, timedelta(hours=7.5)).tightened == ()
    assert next_look(PACE, caution, NOON, timedelta(hours=7.5, seconds=1)).tightened == (Strain.LONG,)


def test_a_limit_as_short_as_the_floor_is_still_the_growers() -> None:
    look = next_look(PACE, replace(FIVE, own=FIVE.floor), NOON, FRESH)
    assert (look.decided_by, look.interval) == (Decider.OWN, FIVE.floor)


def test_half_an_acre_left_of_what_may_be_lost() -> None:
    caution = replace(FIVE, unseen=quantity(4.5, "acre"), floor=FRESH)
    assert acres(next_look(PACE, caution, NOON, FRESH)) == pytest.approx(0.5)
