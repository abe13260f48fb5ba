from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import InputError
from engine.reminders.wall import Wall, later, upcoming, zone_called

CHICAGO, BERLIN, SYDNEY = "America/Chicago", "Europe/Berlin", "Australia/Sydney"

# Rules of the changes in 2027: North America, second Sunday in March and first in November at 02:00 local time (15 USC
# 260a); European Union, last Sunday in March and in October at 01:00 UTC (Directive 2000/84/EC).


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def at(text: str, zone: str, second: bool = False) -> Wall:
    return Wall(datetime.fromisoformat(text), zone, second)


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
def test_both_changes_of_the_clock_in_two_zones(wall: Wall, instant: str) -> None:
    assert wall.instant == utc(instant)
    assert Wall.of(utc(instant), wall.zone) == wall


@pytest.mark.parametrize(
    ("skipped", "zone", "instant"),
    [("2027-03-14T02:30", CHICAGO, "2027-03-14T08:30"), ("2027-03-28T02:30", BERLIN, "2027-03-28T01:30")],
)
def test_a_skipped_time_comes_that_much_later(skipped: str, zone: str, instant: str) -> None:
    assert at(skipped, zone).instant == utc(instant)
    assert Wall.of(utc(instant), zone).local.hour == 3


@pytest.mark.parametrize(
    ("after", "clock", "zone", "expected"),
    [
        ("2027-04-21T04:30", time(0, 10), CHICAGO, at("2027-04-21T00:10", CHICAGO)),
        ("2027-04-21T05:10", time(0, 10), CHICAGO, at("2027-04-22T00:10", CHICAGO)),
        ("2027-03-14T07:00", time(2, 30), CHICAGO, at("2027-03-14T02:30", CHICAGO)),
        ("2027-03-14T07:30", time(2, 30), CHICAGO, at("2027-03-14T02:30", CHICAGO)),
        ("2027-03-14T08:45", time(2, 30), CHICAGO, at("2027-03-15T02:30", CHICAGO)),
        ("2027-11-07T05:00", time(1, 40), CHICAGO, at("2027-11-07T01:40", CHICAGO)),
        ("2027-11-07T06:50", time(1, 40), CHICAGO, at("2027-11-07T01:40", CHICAGO, second=True)),
        ("2027-11-07T07:40", time(1, 40), CHICAGO, at("2027-11-08T01:40", CHICAGO)),
        ("2027-10-30T23:00", time(2, 30), BERLIN, at("2027-10-31T02:30", BERLIN)),
        ("2027-12-31T22:00", time(0, 0), BERLIN, at("2028-01-01T00:00", BERLIN)),
    ],
)
def test_the_next_time_the_wall_shows_an_hour(after: str, clock: time, zone: str, expected: Wall) -> None:
    assert upcoming(utc(after), clock, zone) == expected


@given(
    st.datetimes(datetime(2020, 1, 1), datetime(2035, 1, 1), timezones=st.just(UTC)),
    st.sampled_from([CHICAGO, BERLIN, SYDNEY, "America/Phoenix", "Asia/Kolkata", "Australia/Lord_Howe"]),
    st.times(),
)
def test_the_wall_and_the_instant_agree(moment: datetime, zone: str, clock: time) -> None:
    assert Wall.of(moment, zone).instant == moment
    after = upcoming(moment, clock, zone)
    assert moment < after.instant <= moment + timedelta(hours=26)


@given(st.datetimes(timezones=st.just(UTC), min_value=datetime(2000, 1, 1), max_value=datetime(2040, 1, 1)))
def test_a_length_of_time_is_the_same_whatever_the_wall_does(moment: datetime) -> None:
    for zone in (CHICAGO, BERLIN, SYDNEY):
        assert later(moment, timedelta(minutes=90), zone).instant - moment == timedelta(minutes=90)


def test_what_is_no_zone_and_no_time_on_a_wall() -> None:
    with pytest.raises(InputError, match="'Iowa' is not a time zone"):
        zone_called("Iowa")
    with pytest.raises(InputError, match="no offset"):
        Wall(utc("2027-03-28T02:30"), BERLIN)
