from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import InputError
from engine.reminders.local_time import LocalTime, zone_called

CHICAGO, BERLIN, SYDNEY = "America/Chicago", "Europe/Berlin", "Australia/Sydney"

# Rules of the changes in 2027: North America, second Sunday in March and first in November at 02:00 local time (15 USC
# 260a); European Union, last Sunday in March and in October at 01:00 UTC (Directive 2000/84/EC).


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def at(text: str, zone: str, second: bool = False) -> LocalTime:
    return LocalTime(datetime.fromisoformat(text), zone, second)


@pytest.mark.parametrize(
    ("wall", "instant"),
    [
        (at("2027-03-14T01:59", CHICAGO), "2027-03-14T07:59"),
        (at("2027-03-14T03:00", CHICAGO), "2027-03-14T08:00"),
        (at("2027-11-07T01:30", CHICAGO), "2027-11-07T06:30"),
        (at("2027-11-07T01:30", CHICAGO, second=True), "2027-11-07T07:30"),
        (at("2027-11-07T02:00", CHICAGO), "2027-11-07T08:00"),
        (at("2027-03-28T01:59", BERLIN), "2027-03-28T00:59"),
        (at("2027-03-28T03:00", BERLIN), "2027-03-28T01:00"),
        (at("2027-10-31T02:30", BERLIN), "2027-10-31T00:30"),
        (at("2027-10-31T02:30", BERLIN, second=True), "2027-10-31T01:30"),
        (at("2027-10-31T03:00", BERLIN), "2027-10-31T02:00"),
    ],
)
def test_both_changes_of_the_clock_in_two_zones(wall: LocalTime, instant: str) -> None:
    assert wall.instant == utc(instant)
    assert LocalTime.of(utc(instant), wall.zone) == wall


@pytest.mark.parametrize(
    ("skipped", "zone", "instant"),
    [("2027-03-14T02:30", CHICAGO, "2027-03-14T08:30"), ("2027-03-28T02:30", BERLIN, "2027-03-28T01:30")],
)
def test_a_skipped_time_comes_that_much_later(skipped: str, zone: str, instant: str) -> None:
    assert at(skipped, zone).instant == utc(instant)
    assert LocalTime.of(utc(instant), zone).local.hour == 3


@given(
    st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1), timezones=st.just(UTC)),
    st.sampled_from([CHICAGO, BERLIN, SYDNEY, "America/Phoenix", "Asia/Kolkata", "Australia/Lord_Howe"]),
)
def test_the_wall_and_the_instant_agree(moment: datetime, zone: str) -> None:
    assert LocalTime.of(moment, zone).instant == moment


def test_what_is_no_zone_and_no_time_on_a_wall() -> None:
    with pytest.raises(InputError, match="'Iowa' is not a time zone"):
        zone_called("Iowa")
    with pytest.raises(InputError, match="no offset"):
        LocalTime(utc("2027-03-28T02:30"), BERLIN)
