"""Shifts in words: short, by field, in both languages, right on the night when an hour comes twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from bot.record.shift_words import RecordReport, account
from engine.database import open_database
from engine.history.shifts import ShiftRecord, SuspectStretch, shifts
from engine.history.store.journal import Journal
from engine.history.store.segments import Ending
from engine.messages import LANGUAGES, Language, Report, System
from engine.quantities import Measure
from engine.shift.record.shift_facts import Doubted
from tests.helpers.planting import EVENING, plant
from tests.helpers.planting import night as said

CHICAGO = ZoneInfo("America/Chicago")


def stretch(row: int, report: Report, since: int, until: int, acres: float, *fields: str) -> SuspectStretch:
    """A stretch of one row on 30 in rows at 5 lb an acre, from and until so many minutes after the start."""
    found = Doubted(
        report=report,
        rows=(row,),
        since=EVENING + timedelta(minutes=since),
        until=EVENING + timedelta(minutes=until),
        planted=Measure(value=acres * 8, unit="acre"),
        area=Measure(value=acres, unit="acre"),
        row_length=Measure(value=acres * 43_560 / 2.5, unit="ft"),
        short=Measure(value=acres * 5, unit="lb"),
    )
    return SuspectStretch(found, fields, ("Product A",), ("447",))


@pytest.fixture(scope="module")
def night() -> ShiftRecord:
    """A night as it was said, with doubtful stretches of its own."""
    (record,) = shifts(said())
    found = (
        stretch(5, Report.STOPPED, 0, 70, 0.98, "North field"),
        stretch(7, Report.HIGH, 0, 185, 2.14, "North field"),
        stretch(2, Report.STOPPED, 133, 250, 1.5, "North field", "South"),
    )
    return replace(record, stretches=found)


def told(language: Language, system: System = System.US) -> RecordReport:
    return account(language, CHICAGO, system)


def test_a_shift_in_a_few_lines(night: ShiftRecord) -> None:
    head, around, looks, rate, row, doubt = told("en").shift(night)
    assert head == "2026-04-21 19:05 to 2026-04-22 00:11, North field, South: 31 acres in 4 h 35 min, finished."
    assert around == "Product A · lot 447, 458 · with Maria"
    assert looks == "Looks: 6. Refills: 0."
    assert rate.startswith("True rate 6.4 lb/acre over 30 acres, 27% high.")
    assert row == "Row 7: 4.8 lb/acre, too little, 99% sure."
    assert doubt == "In doubt: 4.6 acres."
    assert len(told("es").shift(night)) == 6
    assert told("en").shift(replace(night, ending=Ending.OPEN))[-1] == doubt
    assert " ha " in told("en", System.METRIC).shift(night)[0]


def test_the_scouting_list_is_by_field_and_the_latest_first(night: ShiftRecord) -> None:
    lines = told("en").scouting([night])
    assert lines[:-1] == [
        "North field, South:",
        "  Row 2, stopped, 2026-04-21 21:18 to 23:15: 1.5 acres, 26100 ft of row, up to 7.5 lb short.",
        "North field:",
        "  Row 7, hopper stayed high, 2026-04-21 19:05 to 22:10: 2.1 acres, 7.1 mi of row, up to 11 lb short.",
        "  Row 5, stopped, 2026-04-21 19:05 to 20:15: 0.98 acres, 17100 ft of row, up to 4.9 lb short.",
    ]
    assert "label" in lines[-1] and "licensed applicator" in lines[-1]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_stretch_has_its_line_and_its_planter(night: ShiftRecord, language: Language) -> None:
    other = replace(night, conversation="Big one", stretches=night.stretches[:1])
    lines = told(language).scouting([night, other], planters=True)
    assert len([line for line in lines if line.startswith("  ")]) == 4
    assert sum(line.endswith("(Big one)") for line in lines) == 1
    assert told(language).scouting([replace(night, stretches=())]) == []


def test_a_field_without_a_name_is_said_to_have_none(night: ShiftRecord) -> None:
    bare = replace(night, stretches=tuple(replace(one, fields=()) for one in night.stretches[:1]))
    assert told("en").scouting([bare])[0] == "Field without a name:"


@pytest.mark.parametrize(
    ("when", "shown"),
    [
        (datetime(2026, 11, 1, 6, 30, tzinfo=UTC), "2026-11-01 01:30 CDT"),
        (datetime(2026, 11, 1, 7, 30, tzinfo=UTC), "2026-11-01 01:30 CST"),
        (datetime(2026, 11, 1, 8, 30, tzinfo=UTC), "2026-11-01 02:30"),
        (datetime(2026, 3, 8, 8, 30, tzinfo=UTC), "2026-03-08 03:30"),
    ],
)
def test_an_hour_that_comes_twice_has_the_name_of_its_time(when: datetime, shown: str) -> None:
    assert told("en").moment(when) == shown


def test_a_rate_by_the_clock_says_so(night: ShiftRecord) -> None:
    (found,) = night.rates
    head, *rows = told("en").rate(found)
    assert head == "2026-04-22 00:06: 192 lb used. True rate 6.4 lb/acre over 30 acres, 27% high."
    assert [row.strip() for row in rows[5:]] == [
        "Row 6: 6.6 lb/acre.",
        "Row 7: 4.8 lb/acre, too little, 99% sure.",
        "Row 8: 6.6 lb/acre.",
    ]
    assert "by the clock" in told("en").rate(found.model_copy(update={"reckoned": True}))[0]


def test_hours_without_a_look_are_told_as_what_nothing_proves() -> None:
    """Thirty acres in five hours and nobody looked: nothing shows that a row fed."""
    database = open_database(":memory:")
    plant(database, ((300, "thirty acres done"), (300, "end of shift"), (300, "done")))
    (record,) = shifts(Journal(database).turns("c"))
    assert "No look in 5 h 00 min: 30 acres unproved." in told("en").shift(record)
    assert "Sin revisión en 5 h 00 min: 30 acres sin comprobar." in told("es").shift(record)


def test_a_look_at_the_outlets_leaves_nothing_unproved() -> None:
    database = open_database(":memory:")
    said = (300, "thirty acres done"), (300, "all dropping"), (300, "end of shift"), (300, "done")
    plant(database, said)
    (record,) = shifts(Journal(database).turns("c"))
    assert not any("unproved" in line or "Not proved" in line for line in told("en").shift(record))
