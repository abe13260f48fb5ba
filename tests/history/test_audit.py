"""A record that agrees with itself is found to; whatever differs is named."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.crew.erasure import Erasure
from engine.database import Database, open_database
from engine.errors import DatabaseError
from engine.history.copies.audit import audit
from engine.history.store.journal import Journal
from tests.golden.night import FOLDER
from tests.helpers.planting import NIGHT, plant
from tests.helpers.record import files_only
from tests.helpers.turns import new_turn
from tests.helpers.whole_record import LATER

FREED = [f"DROP TRIGGER {table}_no_{verb}" for table in ("turn", "fact", "ring") for verb in ("update", "delete")]


@pytest.fixture(scope="module")
def planted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file with a shift under way that wants a look."""
    place = tmp_path_factory.mktemp("planted") / "record.db"
    database = open_database(place)
    plant(database, [(40, "row three stopped"), (60, "five acres done")])
    database.close()
    return place


@pytest.fixture
def copy(planted: Path, tmp_path: Path) -> Iterator[Database]:
    database = open_database(shutil.copy(planted, tmp_path / "record.db"))
    with database.begin() as connection:
        for statement in FREED:
            connection.exec_driver_sql(statement)
    yield database
    database.close()


def test_a_whole_night_agrees(database: Database) -> None:
    plant(database, NIGHT)
    found = audit(database)
    assert found.difference is None
    turns = Journal(database).turns("c")
    assert (found.conversations, found.turns, found.facts) == (1, len(turns), sum(len(one.facts) for one in turns))


@pytest.mark.parametrize("end", range(1, len(NIGHT), 2))
def test_a_night_agrees_at_every_hour(end: int) -> None:
    database = open_database(":memory:")
    plant(database, NIGHT[:end])
    assert audit(database).difference is None
    database.close()


@pytest.mark.parametrize("golden", sorted(FOLDER.glob("format-*")), ids=lambda path: path.name)
def test_records_of_earlier_releases_agree(golden: Path, tmp_path: Path) -> None:
    database = open_database(shutil.copy(golden / "record.db", tmp_path / "record.db"))
    assert audit(database).difference is None
    database.close()


def test_a_person_who_was_forgotten_wants_no_look(database: Database) -> None:
    plant(database, [(40, "row three stopped")], conversation="telegram:7")
    Erasure(database).forget("telegram:7", LATER)
    assert audit(database).difference is None


@files_only
@pytest.mark.parametrize(
    ("statement", "named"),
    [
        ("DELETE FROM fact WHERE turn = 20; DELETE FROM turn WHERE id = 20", "turn 20 of c is missing"),
        ("DELETE FROM fact WHERE turn = 33 AND ordinal = 0", "turn 33 of c: fact 1 is missing"),
        ("UPDATE fact SET row = 9 WHERE row = 3", "beside it stands 9"),
        ("UPDATE fact SET slot = 'other' WHERE slot IS NOT NULL", "beside it stands 'other'"),
        ("UPDATE fact SET kind = 'other' WHERE kind = 'moved'", "says kind 'moved', beside it stands 'other'"),
        ("UPDATE fact SET body = replace(body, '\"moved\"', '\"odd\"'), kind = replace(kind, 'moved', 'odd')", "'odd'"),
        ("UPDATE script SET source = source || ' '", "is not the text of that checksum"),
        ("UPDATE reminder SET state = 'called_off', next_at = NULL", "the facts want a look at 2026-04-22 "),
        ("UPDATE reminder SET rung = 2", "a look rang 2 times, and 0 are noted"),
    ],
)
def test_what_differs_is_named(copy: Database, statement: str, named: str) -> None:
    with copy.begin() as connection:
        for one in statement.split(";"):
            connection.exec_driver_sql(one)
    assert named in str(audit(copy).difference)


@files_only
def test_a_look_that_nobody_wants_is_named(tmp_path: Path) -> None:
    database = open_database(tmp_path / "record.db")
    plant(database, [(5, "end of shift"), (6, "one acre done"), (7, "done")])
    assert audit(database).difference is None
    with database.begin() as connection:
        connection.exec_driver_sql("UPDATE reminder SET state = 'waiting' WHERE id = 1")
    assert "asks, and the facts want none" in str(audit(database).difference)
    database.close()


@files_only
def test_a_damaged_file_is_named(planted: Path, tmp_path: Path) -> None:
    place = Path(shutil.copy(planted, tmp_path / "record.db"))
    raw = bytearray(place.read_bytes())
    raw[len(raw) // 2 : len(raw) // 2 + 9000] = b"\xff" * 9000
    place.write_bytes(raw)
    database = open_database(place)
    try:
        assert "the file is damaged" in str(audit(database).difference)
    except DatabaseError as error:
        assert "is damaged" in str(error)
    finally:
        database.close()


def test_an_empty_record_agrees(database: Database) -> None:
    assert audit(database) == type(audit(database))(0, 0, 0, None)
    Journal(database).append(new_turn(1))
    assert audit(database).turns == 1
