from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import Connection, inspect, select, text

from engine.database import Database, open_database
from engine.errors import DatabaseError
from engine.history.store import tables, upgrades
from engine.history.store.journal import Journal
from engine.queues.outbox import Outbox
from tests.helpers.record import files_only
from tests.helpers.turns import new_turn

pytestmark = files_only
FIRST = Path(__file__).parent / "version_1.sql"


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A record as the first format wrote it: two turns, three messages, one of them sent."""
    place = tmp_path / "old.db"
    with sqlite3.connect(place) as raw:
        raw.executescript(FIRST.read_text(encoding="utf-8"))
    raw.close()
    return place


def shape(database: Database) -> dict[str, object]:
    """Columns, keys and indexes of every table, and the triggers."""
    with database.read() as connection:
        seen = inspect(connection)
        triggers = connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars()
        return {"triggers": sorted(triggers)} | {
            table: (
                [(column["name"], str(column["type"]), column["nullable"]) for column in seen.get_columns(table)],
                sorted((index["name"], tuple(index["column_names"])) for index in seen.get_indexes(table)),
                sorted(tuple(one["column_names"]) for one in seen.get_unique_constraints(table)),
                sorted(
                    (tuple(key["constrained_columns"]), key["referred_table"]) for key in seen.get_foreign_keys(table)
                ),
            )
            for table in seen.get_table_names()
        }


def version_of(database: Database) -> int:
    with database.read() as connection:
        return connection.execute(select(tables.version.c.version)).scalar_one()


def test_an_old_record_becomes_what_a_new_one_is(old: Path, tmp_path: Path) -> None:
    upgraded, fresh = open_database(old), open_database(tmp_path / "fresh.db")
    assert shape(upgraded) == shape(fresh)
    assert version_of(upgraded) == version_of(fresh) == upgrades.current()
    upgraded.close()
    fresh.close()


def test_an_old_record_keeps_its_history_and_goes_on(old: Path) -> None:
    database = open_database(old)
    journal = Journal(database)
    first, second = journal.turns("c1")
    assert first.facts == ({"kind": "started", "dialog": "test-run", "script": "abc"},)
    assert second.facts[0]["value"] == {"value": 49.5, "unit": "g"}
    assert journal.script("abc") == "dialog: test-run"
    assert [one.outgoing.key for one in Outbox(database).pending("c1")] == ["c1-2/0", "c1-2/1"]
    assert journal.append(new_turn(3)).seq == 3
    database.close()


def add_note(connection: Connection) -> None:
    connection.execute(text("CREATE TABLE note (id INTEGER PRIMARY KEY)"))


def fail(connection: Connection) -> None:
    connection.execute(text("ALTER TABLE note ADD COLUMN half INTEGER"))
    connection.execute(text("INSERT INTO nowhere VALUES (1)"))


def test_a_step_that_fails_leaves_the_last_good_format(old: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    open_database(old).close()
    base = upgrades.current()
    monkeypatch.setattr(upgrades, "STEPS", (*upgrades.STEPS, add_note, fail))
    with pytest.raises(DatabaseError, match="nowhere"):
        open_database(old)
    monkeypatch.setattr(upgrades, "STEPS", upgrades.STEPS[:-1])
    database = open_database(old)
    assert version_of(database) == base + 1
    assert shape(database)["note"] == ([("id", "INTEGER", True)], [], [], [])
    database.close()
