"""The record of shifts and its tables, from a night that was really said."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from bot.record.shift_words import account
from engine.database import open_database
from engine.history.export import Cells, instant, written
from engine.history.put_away import Tubes
from engine.history.shift_export import doubt_lines, rate_lines, shift_lines
from engine.history.shifts import ShiftRecord, shifts
from engine.history.store.journal import Journal, StoredTurn
from engine.history.store.segments import Ending
from engine.messages import Report
from engine.quantities import Measure
from tests.helpers.planting import EVENING, NIGHT, plant
from tests.helpers.planting import night as said

CARRIED = 2e-3
"""What four digits in a table may lose, where several are put together."""

Lines = list[dict[str, str]]


def minute(number: float) -> datetime:
    return EVENING + timedelta(minutes=number)


def lines(made: list[Cells]) -> Lines:
    """The table as who opens it reads it."""
    return list(csv.DictReader(io.StringIO(written(made))))


@pytest.fixture(scope="module")
def told() -> tuple[StoredTurn, ...]:
    return said()


@pytest.fixture(scope="module")
def night(told: tuple[StoredTurn, ...]) -> ShiftRecord:
    (record,) = shifts(told)
    return record


def upto(told: tuple[StoredTurn, ...], minutes: float) -> ShiftRecord:
    """The shift as it stood so many minutes after its start."""
    return shifts(one for one in told if one.said_at <= minute(minutes))[-1]


def test_a_shift_is_what_was_planted_where_and_with_what(night: ShiftRecord) -> None:
    assert (night.ending, night.rows) == (Ending.FINISHED, (1, 2, 3, 4, 5, 6, 7, 8))
    assert (night.started_at, night.ended_at) == (minute(0), minute(NIGHT[-1][0]))
    assert night.fields == ("North field", "South")
    assert (night.products, night.lots, night.operators) == (("Product A",), ("447", "458"), ("Maria",))
    assert night.worked == timedelta(minutes=305 - 30)
    # told at five hours: thirty acres; then five minutes more
    assert 30 < night.planted.to("acre").value < 31


def test_looks_refills_and_pauses_are_when_they_were_said(night: ShiftRecord) -> None:
    assert [one - EVENING for one in night.looks] == [timedelta(minutes=at) for at in (30, 60, 91, 180, 240, 301)]
    assert night.pauses == ((minute(93), minute(123)), (minute(305), minute(306)))
    assert night.refills == ()


def test_what_was_taken_back_is_not_in_the_record(told: tuple[StoredTurn, ...]) -> None:
    before, after = upto(told, 91), upto(told, 92)
    assert [one.report for one in before.reports[-2:]] == [Report.HIGH, Report.GOOD]
    assert [one.report for one in after.reports][-1] is Report.HIGH
    assert [one.found.rows for one in before.stretches] == [(5,), (7,)]
    assert upto(told, 90).looks == after.looks[:-1]


def test_a_shift_left_open_counts_as_far_as_it_is_known(told: tuple[StoredTurn, ...]) -> None:
    record = upto(told, 70)
    assert (record.ending, record.ended_at) == (Ending.OPEN, minute(70))
    assert record.worked == timedelta(minutes=70)
    assert (upto(told, 0).stretches, upto(told, 0).reports) == ((), ())


def test_a_cancelled_shift_counts_too() -> None:
    database = open_database(":memory:")
    plant(database, [(40, "row three stopped"), (41, "cancel"), (41.5, "yes")])
    (record,) = shifts(Journal(database).turns("c"))
    assert (record.ending, record.ended_at) == (Ending.CANCELLED, minute(41.5))
    assert [one.found.rows for one in record.stretches] == [(3,)]


def test_a_stretch_names_all_that_was_planted_in_it(night: ShiftRecord) -> None:
    found = {one.found.rows: (one.fields, one.lots) for one in night.stretches}
    assert found == {
        (5,): (("North field",), ("447",)),
        (7,): (("North field",), ("447",)),
        (2,): (("North field", "South"), ("447", "458")),
    }


def test_the_shift_as_a_table(night: ShiftRecord) -> None:
    (line,) = lines(shift_lines([night]))
    assert list(line)[:5] == ["planter", "started_at", "ended_at", "ending", "rows"]
    assert (line["started_at"], line["ended_at"]) == ("2026-04-22T00:05:00Z", "2026-04-22T05:11:00Z")
    assert (line["field"], line["lot"], line["operator"]) == ("North field; South", "447; 458", "Maria")
    assert float(line["worked"]) == pytest.approx(275 / 60, rel=CARRIED)
    assert (line["worked_unit"], line["looks"]) == ("h", "6")
    assert (float(line["used"]), line["used_unit"]) == (192.0, "lb")
    assert float(line["true_rate"]) == pytest.approx(192 / float(line["known_area"]), rel=CARRIED)
    assert float(line["in_doubt"]) == pytest.approx(sum(one.found.area.value for one in night.stretches), rel=CARRIED)


def test_the_scouting_list_as_a_table(night: ShiftRecord) -> None:
    found = lines(doubt_lines([night]))
    assert [(line["row"], line["report"]) for line in found] == [("5", "stopped"), ("7", "high"), ("2", "stopped")]
    assert (found[0]["since"], found[0]["until"]) == (instant(night.stretches[0].found.since), "2026-04-22T01:15:00Z")
    for line, one in zip(found, night.stretches, strict=True):
        # an acre is 43560 square feet; the rows are 30 in apart
        assert float(line["area"]) * 43_560 / 2.5 == pytest.approx(float(line["row_length"]), rel=CARRIED)
        assert float(line["short"]) == pytest.approx(float(line["area"]) * 5, rel=CARRIED)
        assert (line["area_unit"], line["row_length_unit"], line["short_unit"]) == ("acre", "ft", "lb")
        assert float(line["area"]) == pytest.approx(one.found.area.value, rel=CARRIED)


def test_rows_told_together_share_their_stretch() -> None:
    database = open_database(":memory:")
    plant(database, [(40, "five and seven stopped")])
    record = shifts(Journal(database).turns("c"))[-1]
    found = lines(doubt_lines([record]))
    assert [line["row"] for line in found] == ["5", "7"]
    assert sum(float(line["area"]) for line in found) == pytest.approx(record.in_doubt.value, rel=CARRIED)


def test_the_true_rates_as_a_table(night: ShiftRecord) -> None:
    found = lines(rate_lines([night]))
    assert [line["row"] for line in found] == [str(row) for row in night.rows]
    assert [line["row"] for line in found if line["named"]] == ["7"]
    assert float(found[6]["under_feeds"]) > 0.9 > float(found[0]["under_feeds"])
    for line in found:
        assert float(line["rate"]) == pytest.approx(float(line["used"]) / float(line["area"]), rel=CARRIED)
        assert float(line["off"]) == pytest.approx((float(line["rate"]) / 5 - 1) * 100, rel=CARRIED)
    mean = sum(float(line["row_rate"]) for line in found) / len(found)
    assert mean == pytest.approx(float(found[0]["rate"]), rel=CARRIED)


def test_a_name_never_runs_in_a_spreadsheet(night: ShiftRecord) -> None:
    (line,) = lines(shift_lines([replace(night, fields=("=1+1",))]))
    assert line["field"] == "'=1+1"


@pytest.mark.parametrize(
    ("begun", "ended"),
    [
        (datetime(2026, 3, 8, 4, 0, tzinfo=UTC), "2026-03-08T09:06:00Z"),
        (datetime(2026, 11, 1, 4, 0, tzinfo=UTC), "2026-11-01T09:06:00Z"),
    ],
)
def test_a_table_keeps_instants_over_both_changes_of_the_clock(begun: datetime, ended: str) -> None:
    """Shifts that begin in Chicago on the eve of each change, at 22:00 and at 23:00, and end after it."""
    database = open_database(":memory:")
    plant(database, [(60, "row five stopped"), (305, "end of shift"), (306, "done")], begun=begun)
    (record,) = shifts(Journal(database).turns("c"))
    (line,) = lines(shift_lines([record]))
    assert line["ended_at"] == ended
    assert float(line["worked"]) == pytest.approx(305 / 60, rel=CARRIED)
    assert record.ended_at - record.started_at == timedelta(minutes=306)


@pytest.mark.parametrize("minutes", [0, *(at for at, _ in NIGHT)])
def test_every_acre_in_doubt_lies_inside_the_shift(told: tuple[StoredTurn, ...], minutes: float) -> None:
    record = upto(told, minutes)
    for one in record.stretches:
        assert record.started_at <= one.found.since < one.found.until <= record.ended_at
        assert one.found.planted.value <= record.planted.value * (1 + 1e-9)
        assert set(one.found.rows) <= set(record.rows)
    assert record.in_doubt.value <= record.planted.value
    table = lines(doubt_lines([record]))
    assert sum(float(line["area"]) for line in table) == pytest.approx(record.in_doubt.value, rel=CARRIED)
    assert timedelta(0) <= record.worked <= record.ended_at - record.started_at


@pytest.mark.parametrize(
    ("said", "used"),
    [
        # weighed twice without a refill, eight hoppers of forty pounds
        ([(60, "seven acres done"), (61, "all thirty five pounds left"), (120, "fourteen acres done"),
          (121, "end of shift"), (122, "all thirty pounds left"), (123, "done")], 80),
        # six pounds into each after seven acres, then thirty five left of forty again
        ([(60, "seven acres done"), (61, "refilled all, six pounds each"), (62, "on top"),
          (120, "fourteen acres done"), (121, "end of shift"), (122, "all thirty five pounds left"),
          (123, "done")], 88),
        # weighed on the way alone: what came after is not known
        ([(60, "seven acres done"), (61, "all thirty five pounds left"), (120, "fourteen acres done")], 40),
    ],
)  # fmt: skip
def test_what_was_used_is_what_was_loaded_and_filled_less_what_is_left(
    said: list[tuple[float, str]], used: float
) -> None:
    database = open_database(":memory:")
    plant(database, said)
    (record,) = shifts(Journal(database).turns("c"))
    books = record.balance
    assert books.used.value == pytest.approx(used)
    assert books.known_area.value == pytest.approx(record.planted.value if used != 40 else 7, rel=0.02)
    assert books.true_rate is not None and books.off is not None
    assert books.true_rate.value == pytest.approx(books.used.value / books.known_area.value)
    assert books.off.value == pytest.approx((books.true_rate.value / 5 - 1) * 100, rel=0.1)
    # nobody told the rows apart, so nothing is known of one of them
    assert books.row_used == {} and books.row_rates == {}
    for line in lines(rate_lines([record])):
        assert (line["row"], line["row_rate"], line["under_feeds"]) == ("", "", "")
    assert [float(line["used"]) for line in lines(rate_lines([record]))][-1:] == [record.rates[-1].used.value]


def test_rows_that_were_told_by_themselves_have_rates_of_their_own() -> None:
    database = open_database(":memory:")
    told = ", ".join(f"row {row} thirty five pounds left" for row in range(1, 8))
    plant(database, [(60, "seven acres done"), (61, f"{told}, row 8 thirty four pounds left")])
    books = shifts(Journal(database).turns("c"))[-1].balance
    assert set(books.row_rates) == set(range(1, 9))
    area = books.known_area.value
    assert [books.row_rates[row].value for row in (1, 8)] == pytest.approx([5 * 8 / area, 6 * 8 / area], rel=0.02)
    assert sum(one.value for one in books.row_rates.values()) / 8 == pytest.approx(books.used.value / area, rel=0.02)


LOCKED = ("yes", "yes", "twelve", "north shed", "Otto", "thrown away")


def put_away(*said: str) -> ShiftRecord:
    database = open_database(":memory:")
    end = ["fifty acres done", "end of shift", "all five pounds left", "done", "put away"]
    plant(database, [(270 + at, text) for at, text in enumerate((*end, *said))])
    (record,) = shifts(Journal(database).turns("c"))
    return record


def test_what_was_left_is_in_the_record_of_its_shift() -> None:
    record = put_away("thirty pounds", "no", "not yet")
    found = record.put_away
    assert found is not None and found.put_back == Measure(value=30, unit="lb")
    assert (found.outcome, found.own_container, found.locked) == ("less", False, False)
    assert (found.booked.to("lb").value, found.gap.to("lb").value) == (pytest.approx(40), pytest.approx(10))
    (line,) = shift_lines([record])
    assert (line["put_back"], line["put_away"], line["own_container"], line["locked"]) == (30, "less", "no", "no")


def test_where_it_is_locked_and_who_did_it_are_in_words_and_in_the_table() -> None:
    record = put_away("forty pounds", *LOCKED)
    (line,) = shift_lines([record])
    assert [line[name] for name in ("store", "locked_by", "empty_containers", "tubes")] == [
        *("north shed", "Otto", 12, "disposed"),
    ]
    assert record.put_away is not None
    (told,) = account("en", UTC).put_away(record.put_away)
    assert told.endswith(
        "Locked up: north shed, by Otto. Empty containers: 12. Tubes and catch containers thrown away."
    )
    (told,) = account("es", UTC).put_away(replace(record.put_away, store=None, tubes=Tubes.LATER))
    assert told.endswith(
        "Cerró con llave Otto. Envases vacíos: 12. Probetas y recipientes de muestra todavía sin limpiar."
    )
    (bare,) = [one for one in [put_away("forty pounds", "yes", "not yet").put_away] if one]
    assert (bare.store, bare.locked_by, bare.locked) == (None, None, False)


def test_who_had_the_planter_last_is_offered_as_who_locked_it() -> None:
    database = open_database(":memory:")
    end = [
        "hand over to Maria",
        "half an acre done",
        "end of shift",
        "done",
        "put away",
        *("skip", "yes", "yes", "skip", "skip"),
    ]
    plant(database, [(70 + at, text) for at, text in enumerate((*end, "yes", "cleaned"))])
    (record,) = shifts(Journal(database).turns("c"))
    assert record.put_away is not None and record.put_away.locked_by == "Maria"


def test_what_is_put_away_once_more_is_as_it_was_told_last() -> None:
    first = ("skip", "yes", "yes", "skip", "north shed", "skip", "cleaned")
    found = put_away(*first, "put away", "forty pounds", "yes", "yes", "twelve", "Otto", "thrown away").put_away
    assert found is not None and (found.outcome, found.own_container, found.locked) == ("agrees", True, True)
    assert (found.store, found.locked_by, found.empties, found.tubes) == ("north shed", "Otto", 12, Tubes.DISPOSED)
    left = put_away("forty pounds", "yes").put_away
    assert left is None
