from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import event, update

from engine.database import Database, open_database
from engine.errors import DatabaseError, NewerDatabase
from engine.history.store import tables, upgrades
from engine.history.store.journal import Journal
from tests.helpers.record import files_only
from tests.helpers.turns import new_turn


@files_only
def test_every_commit_is_on_the_disk(database: Database) -> None:
    with database.begin() as connection:
        found = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar()
            for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
        }
    assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 10000}


def test_a_folder_is_made_for_the_record(tmp_path: Path) -> None:
    open_database(tmp_path / "a" / "b" / "record.db").close()
    assert (tmp_path / "a" / "b" / "record.db").exists()


def test_a_record_of_a_newer_program_is_left_alone(tmp_path: Path) -> None:
    place = tmp_path / "record.db"
    database = open_database(place)
    with database.begin() as connection:
        connection.execute(update(tables.version).values(version=99))
    database.close()
    before = place.read_bytes()
    with pytest.raises(
        NewerDatabase, match=r"newer Rowhand \(format 99, this one knows \d+\): update the program"
    ) as caught:
        open_database(place)
    assert (caught.value.found, caught.value.known) == (99, upgrades.current())
    assert place.read_bytes() == before


def test_a_file_of_something_else(tmp_path: Path) -> None:
    place = tmp_path / "notes.db"
    place.write_text("shopping list: granules, tape, coffee" * 50)
    with pytest.raises(DatabaseError, match=r"notes\.db is not a record of this program"):
        open_database(place)
    assert place.read_text().startswith("shopping list")


def test_a_database_of_another_program(tmp_path: Path) -> None:
    place = tmp_path / "other.db"
    with sqlite3.connect(place) as other:
        other.execute("CREATE TABLE photos (id INTEGER)")
    other.close()
    with pytest.raises(DatabaseError, match="data of another program"):
        open_database(place)


def test_a_folder_in_place_of_a_file(tmp_path: Path) -> None:
    with pytest.raises(DatabaseError, match="is a folder"):
        open_database(tmp_path)


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(DatabaseError, match="cannot be made"):
        open_database(tmp_path / "file" / "record.db")


@pytest.mark.parametrize("address", ["nonsense://x", "postgresql+nodriver://x/y"])
def test_an_address_that_cannot_be_used(address: str) -> None:
    with pytest.raises(DatabaseError, match="address cannot be used"):
        open_database(address)


def test_a_record_that_may_not_be_written(tmp_path: Path) -> None:
    place = tmp_path / "record.db"
    open_database(place).close()
    reading = open_database(f"sqlite:///file:{place}?mode=ro&uri=true")
    with pytest.raises(DatabaseError, match="cannot be written"):
        Journal(reading).append(new_turn(1))
    reading.close()


@files_only
def test_a_disk_without_space(database: Database) -> None:
    @event.listens_for(database.engine, "connect")
    def _small(connection: sqlite3.Connection, _record: object) -> None:
        connection.execute("PRAGMA max_page_count = 40")

    database.engine.dispose()
    big = "granules " * 100_000
    with pytest.raises(DatabaseError, match="the disk is full: free some space"):
        Journal(database).append(new_turn(1, {"kind": "note", "text": big}))
    assert Journal(database).append(new_turn(1)).seq == 1


def test_another_program_that_does_not_let_go(tmp_path: Path) -> None:
    place = tmp_path / "record.db"
    database = open_database(place)

    @event.listens_for(database.engine, "connect")
    def _hasty(connection: sqlite3.Connection, _record: object) -> None:
        connection.execute("PRAGMA busy_timeout = 20")

    database.engine.dispose()
    holder = sqlite3.connect(place, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    with pytest.raises(DatabaseError, match="in use by another program"):
        Journal(database).append(new_turn(1))
    holder.execute("ROLLBACK")
    holder.close()
    assert Journal(database).append(new_turn(1)).seq == 1
    database.close()


def test_readers_do_not_wait_for_a_writer(database: Database) -> None:
    Journal(database).append(new_turn(1))
    with database.begin():
        assert len(Journal(database).turns("c1")) == 1
