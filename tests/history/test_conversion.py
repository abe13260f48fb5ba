"""Amounts in the units that a farm thinks in: nothing but the unit changes, and none of the other system is left.

A pound is 0.45359237 kg and a foot 0.3048 m (1959 agreement); an acre is 43 560 square feet.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.record.ledger import RecordListing
from bot.record.record_part import RecordPart
from bot.telegram.services.showing import Showing
from bot.telegram.texts import ChatTexts
from engine.crew.people import Member
from engine.crew.roles import PersonRole
from engine.database import Database, open_database
from engine.history.conversion import FOREIGN, as_wanted, bulk, held_in, local
from engine.history.export import decimal
from engine.history.store.journal import Journal
from engine.messages import System
from engine.quantities import UNITS, Measure
from engine.queues.outbox_message import TableMessage
from engine.reminders.local_time import zone_called
from tests.helpers.planting import plant

CHICAGO = zone_called("America/Chicago")
NIGHT = [(40, "row three stopped"), (60, "five acres done"), (70, "end of shift"),
         (71, "all thirty seven pounds left"), (72, "done"), (72.5, "put away"), (73, "two hundred ninety pounds"),
         (74, "yes"), (75, "yes")]  # fmt: skip


@pytest.fixture(scope="module")
def night() -> Database:
    database = open_database(":memory:")
    plant(database, NIGHT)
    return database


def amount(value: float, unit: str) -> Measure:
    return Measure(value=value, unit=unit)


@pytest.mark.parametrize("system", System)
@pytest.mark.parametrize("symbol", list(UNITS))
def test_no_unit_of_the_other_system_is_left(symbol: str, system: System) -> None:
    for shown in (local, bulk):
        found = shown(amount(12.5, symbol), system)
        assert UNITS[found.unit].system in (None, system)
        assert found.to(symbol).value == pytest.approx(12.5)


def test_what_a_farm_does_not_use_is_given_up() -> None:
    for system, table in FOREIGN.items():
        assert all(UNITS[unit].system == system for unit in {*table.values()} - {"g", "mL"})
    found = local(amount(2.235, "m/s"), System.METRIC)
    assert (found.unit, found.value) == ("km/h", pytest.approx(8.046))


@given(st.floats(0, 1e4), st.floats(1, 200), st.sampled_from(["lb/acre", "kg/ha"]))
def test_a_rate_along_the_row_and_one_per_area_are_the_same(rate: float, inches: float, unit: str) -> None:
    along = as_wanted(amount(rate, unit), amount(8, "oz/1000 ft"), amount(inches, "in"))
    assert along.unit == "oz/1000 ft"
    assert as_wanted(along, amount(5, unit), amount(inches, "in")).value == pytest.approx(rate)


def test_a_rate_as_it_was_wanted() -> None:
    # 1 oz/1000 ft in rows of 30 in: 43 560 / 2.5 ft of row an acre, 17.424 oz, 1.089 lb
    found = as_wanted(amount(1, "oz/1000 ft"), amount(5, "lb/acre"), amount(30, "in"))
    assert (found.unit, found.value) == ("lb/acre", pytest.approx(17.424 / 16))
    assert as_wanted(amount(0, "g/100 m"), amount(5, "lb/acre"), amount(30, "in")) == amount(0, "lb/acre")
    assert as_wanted(amount(3, "g/100 m"), amount(5, "lb/acre"), None) == amount(3, "g/100 m")


@pytest.mark.parametrize("what", RecordPart)
@pytest.mark.parametrize("system", System)
def test_a_whole_table_is_in_one_system(night: Database, what: RecordPart, system: System) -> None:
    lines = RecordListing(night, "en", CHICAGO, system).lines(what)
    units = [cell for line in lines for name, cell in line.items() if name.endswith("_unit") and cell]
    assert units or what is RecordPart.EMERGENCIES
    assert {UNITS[str(unit)].system for unit in units} <= {None, system}
    wanted = {line["machine_rate_unit"] for line in lines if "machine_rate_unit" in line}
    assert {line["row_rate_unit"] for line in lines if line.get("row_rate_unit")} <= wanted | {"lb/acre", "kg/ha"}
    for name in ("row_rate_unit", "booked_unit", "total_applied_unit"):
        assert len({line[name] for line in lines if line.get(name)}) <= 1


@pytest.mark.parametrize("what", RecordPart)
def test_both_systems_say_the_same(night: Database, what: RecordPart) -> None:
    us, metric = (RecordListing(night, "en", CHICAGO, system).lines(what) for system in System)
    for one, other in zip(us, metric, strict=True):
        for name in [name for name in one if f"{name}_unit" in one and isinstance(one[name], int | float)]:
            told, shown = (
                Measure(value=float(str(line[name])), unit=str(line[f"{name}_unit"])) for line in (one, other)
            )
            assert shown.to(told.unit).value == pytest.approx(told.value, rel=1e-3), name


def test_a_conversation_is_told_in_the_units_in_which_it_is_held() -> None:
    database = open_database(":memory:")
    plant(database, [*NIGHT[:2], (62, "metric units")])
    turns = Journal(database).turns("c")
    assert (held_in(turns), held_in(turns[:-1]), held_in(turns[:-1], System.METRIC)) == (
        System.METRIC,
        System.US,
        System.METRIC,
    )
    (shift,) = RecordListing(database, "en", CHICAGO).lines(RecordPart.SHIFTS)
    assert (shift["planted_unit"], shift["in_doubt_unit"]) == ("ha", "ha")
    assert "ha" in RecordListing(database, "en", CHICAGO).words(RecordPart.SHIFTS)[0]
    alone = Member("c", None, PersonRole.OWNER, "c")
    sent = Showing(database, ChatTexts.load(), CHICAGO).export(alone, "en")
    tables = [one.table for one in sent if isinstance(one, TableMessage)]
    assert len(tables) >= 3
    assert all("acre" not in table and table.startswith("planter,") for table in tables)


@pytest.mark.parametrize(
    ("value", "written"),
    [(50.0, "50"), (0.000612274, "0.0006123"), (0.0000123456, "0.00001235"), (17424.63, "17420"), (-1.5, "-1.5")],
)
def test_a_number_in_a_table(value: float, written: str) -> None:
    assert decimal(value) == written


def test_hours_worked_have_sense() -> None:
    database = open_database(":memory:")
    plant(database, [(0.005, "end of shift"), (0.01, "done")])
    (shift,) = RecordListing(database, "en", CHICAGO).lines(RecordPart.SHIFTS)
    assert (shift["worked"], shift["worked_unit"]) == (0.0, "h")


def test_number_and_unit_of_an_application_record_have_a_column_each(night: Database, tmp_path: Path) -> None:
    (line,) = RecordListing(night, "en", CHICAGO).lines(RecordPart.APPLICATIONS)
    assert list(line)[3:8] == ["total_applied", "total_applied_unit", "location", "area", "area_unit"]
    assert (line["total_applied"], line["total_applied_unit"], line["area_unit"]) == (24.0, "lb", "acre")
