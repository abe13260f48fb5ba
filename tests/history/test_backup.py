"""Copies of the file of a record, made beside a program that writes, and put back."""

from __future__ import annotations

import shutil
import sqlite3
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from random import Random

import pytest

from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import open_database
from engine.dialog.facts.events import Switched
from engine.errors import DatabaseError, InputError, NewerDatabase, WorldError
from engine.facts import write_fact
from engine.history.copies.backup import backup, restore
from engine.history.store import upgrades
from engine.history.store.journal import Journal
from tests.golden.night import FOLDER
from tests.helpers.process import ROOT, python, run_lines
from tests.helpers.turns import new_turn
from tests.helpers.whole_record import content, fill

RESTORER = str(ROOT / "tests/helpers/restorer.py")
FACT = write_fact(Switched(language="en"))
NOW = datetime(2026, 4, 22, 9, 30, tzinfo=UTC)
ASIDE = "record.db.damaged-20260422T093000Z"


def record(folder: Path, turns: int = 3) -> Path:
    place = folder / "record.db"
    database = open_database(place)
    for number in range(Journal(database).last("c1") + 1, turns + 1):
        Journal(database).append(new_turn(number, FACT))
    database.close()
    return place


def turns(place: Path) -> int:
    database = open_database(place)
    try:
        return Journal(database).last("c1")
    finally:
        database.close()


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def spoilt(place: Path) -> bytes:
    raw = bytearray(place.read_bytes())
    raw[5000:-100] = Random(7).randbytes(len(raw) - 5100)
    place.write_bytes(raw)
    return bytes(raw)


def test_a_copy_holds_everything_and_is_one_file(tmp_path: Path) -> None:
    database = open_database(tmp_path / "record.db")
    fill(database)
    found = backup(tmp_path / "record.db", tmp_path / "copies" / "copy.db")
    assert found.difference is None and found.turns == 33
    assert names(tmp_path / "copies") == {"copy.db"}
    assert (tmp_path / "copies" / "copy.db").stat().st_mode & 0o077 == 0
    copy = open_database(tmp_path / "copies" / "copy.db")
    assert content(copy) == content(database)
    with copy.begin() as connection, pytest.raises(Exception, match="written once"):
        connection.exec_driver_sql("DELETE FROM turn")
    copy.close()
    database.close()


def test_a_copy_sees_one_moment_of_a_record_that_goes_on(tmp_path: Path) -> None:
    place = record(tmp_path, 1)
    database = open_database(place)
    journal = Journal(database)

    def go_on() -> None:
        for number in range(2, 200):
            journal.append(new_turn(number, FACT))

    with ThreadPoolExecutor(1) as pool:
        writing, counts = pool.submit(go_on), []
        for number in range(4):
            while journal.last("c1") < 20 * (number + 1):
                pass
            found = backup(place, tmp_path / f"{number}.db")
            assert (found.difference, found.facts) == (None, found.turns - 1 + 1)
            counts.append(found.turns)
        writing.result(60)
    assert counts == sorted(counts) and journal.last("c1") == 199
    database.close()


def test_a_copy_of_an_older_format_stays_one(tmp_path: Path) -> None:
    place = tmp_path / "record.db"
    with closing(sqlite3.connect(place)) as old:
        old.executescript((ROOT / "tests/history/version_1.sql").read_text(encoding="utf-8"))
        old.execute("DELETE FROM script").connection.commit()
    backup(place, tmp_path / "copy.db")
    with closing(sqlite3.connect(tmp_path / "copy.db")) as file:
        assert file.execute("SELECT version FROM rowhand_format").fetchone() == (1,)
    restore(tmp_path / "copy.db", tmp_path / "new.db", NOW)
    with closing(sqlite3.connect(tmp_path / "new.db")) as file:
        assert file.execute("SELECT version FROM rowhand_format").fetchone() == (upgrades.current(),)


def test_what_cannot_be_copied_is_told_and_leaves_nothing(tmp_path: Path) -> None:
    place, taken = record(tmp_path), tmp_path / "taken"
    taken.write_text("mine")
    with pytest.raises(InputError, match="is there already"):
        backup(place, taken)
    with pytest.raises(InputError, match="there is no record"):
        backup(tmp_path / "missing", tmp_path / "copy.db")
    with pytest.raises(DatabaseError, match="not a record of this program"):
        backup(taken, tmp_path / "copy.db")
    with pytest.raises(WorldError, match="cannot be written"):
        backup(place, taken / "copy.db")
    with closing(sqlite3.connect(place)) as file:
        file.execute("UPDATE rowhand_format SET version = 99").connection.commit()
    with pytest.raises(NewerDatabase):
        backup(place, tmp_path / "copy.db")
    spoilt(place)
    with pytest.raises(DatabaseError, match="damaged"):
        backup(place, tmp_path / "copy.db")
    assert names(tmp_path) == {"record.db", "taken"} and taken.read_text() == "mine"


# ---- put back


def test_a_copy_is_put_back_where_there_is_none_and_over_what_it_holds(tmp_path: Path) -> None:
    place, copy = record(tmp_path), tmp_path / "copy.db"
    backup(place, copy)
    assert restore(copy, tmp_path / "elsewhere" / "new.db", NOW).audit.turns == 3
    assert restore(copy, place, NOW).aside is None
    assert turns(place) == 3
    assert names(tmp_path) == {"record.db", "copy.db", "elsewhere"}


def test_a_newer_record_is_left_as_it_is(tmp_path: Path) -> None:
    place, copy = record(tmp_path), tmp_path / "copy.db"
    backup(place, copy)
    record(tmp_path, 5)
    with pytest.raises(DatabaseError, match="holds 2 turns that the copy lacks"):
        restore(copy, place, NOW)
    assert turns(place) == 5
    assert names(tmp_path) == {"record.db", "copy.db"}


def test_a_record_with_newer_people_is_left_as_it_is(tmp_path: Path) -> None:
    place, copy = record(tmp_path), tmp_path / "copy.db"
    backup(place, copy)
    database = open_database(place)
    People(database).invite("north", PersonRole.OWNER, NOW)
    database.close()
    with pytest.raises(DatabaseError, match="holds 1 invitation that the copy lacks"):
        restore(copy, place, NOW)


def test_a_record_that_a_program_has_open_is_left_as_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("engine.history.copies.backup.IN_USE_SECONDS", 0.1)
    place, copy = record(tmp_path), tmp_path / "copy.db"
    backup(place, copy)
    running = open_database(place)
    assert Journal(running).last("c1") == 3
    with pytest.raises(DatabaseError, match="is open in another program"):
        restore(copy, place, NOW)
    assert Journal(running).append(new_turn(4)).seq == 4
    running.close()
    assert turns(place) == 4


@pytest.mark.parametrize("log", [False, True])
def test_a_damaged_record_is_put_aside(tmp_path: Path, log: bool) -> None:
    place, copy = record(tmp_path), tmp_path / "copy.db"
    backup(place, copy)
    before = spoilt(place)
    if log:
        (tmp_path / "record.db-wal").write_bytes(b"a log of the damaged one")
    done = restore(copy, place, NOW)
    assert done.aside == tmp_path / ASIDE and done.aside.read_bytes() == before
    assert turns(place) == 3
    assert names(tmp_path) == {"record.db", "copy.db", ASIDE, *([f"{ASIDE}-wal"] if log else [])}


def test_only_a_good_copy_is_put_back(tmp_path: Path) -> None:
    place, copy = record(tmp_path), tmp_path / "copy.db"
    with pytest.raises(InputError, match="no copy"):
        restore(copy, place, NOW)
    copy.write_text("something else, long enough to be looked at as a database of some kind, which it is not")
    with pytest.raises(DatabaseError, match="not a record of this program"):
        restore(copy, place, NOW)
    copy.unlink()
    backup(place, copy)
    with closing(sqlite3.connect(copy)) as file:
        file.executescript("DROP TRIGGER fact_no_update; UPDATE fact SET row = 9")
    with pytest.raises(DatabaseError, match="does not agree with itself"):
        restore(copy, place, NOW)
    with closing(sqlite3.connect(copy)) as file:
        file.executescript("UPDATE rowhand_format SET version = 99")
    with pytest.raises(NewerDatabase):
        restore(copy, place, NOW)
    assert turns(place) == 3
    assert names(tmp_path) == {"record.db", "copy.db"}


def test_a_record_of_a_newer_program_is_not_replaced(tmp_path: Path) -> None:
    place, copy = record(tmp_path), tmp_path / "copy.db"
    backup(place, copy)
    with closing(sqlite3.connect(place)) as file:
        file.executescript("UPDATE rowhand_format SET version = 99")
    with pytest.raises(NewerDatabase):
        restore(copy, place, NOW)


@pytest.mark.parametrize("damaged", [pytest.param(False, marks=pytest.mark.campaign), True])
def test_killed_while_it_is_put_back_the_record_is_the_old_or_the_new(tmp_path: Path, damaged: bool) -> None:
    copy = Path(shutil.copy(FOLDER / "format-2" / "record.db", tmp_path / "copy.db"))
    chance, ends = Random(20260421), set()
    for number in range(4):
        folder = tmp_path / str(number)
        folder.mkdir()
        place = folder / "record.db"
        if damaged:
            before = spoilt(Path(shutil.copy(copy, place)))
        else:
            open_database(place).close()
            before = place.read_bytes()
        command, pause = python(RESTORER, str(copy), str(place)), chance.uniform(0, 0.8) * (number > 0)
        done = run_lines(command, ["go"], kill_after=1 + number // 3, pause=pause)
        if place.read_bytes() != before:
            database = open_database(place)
            assert len(content(database)["turn"]) == 72, done.errors
            database.close()
        ends.add(done.lines[-1])
        kept = [path for path in folder.iterdir() if damaged and path.read_bytes() == before]
        assert kept or not damaged, "the damaged record is still there, under one name or the other"
    assert ends == {"begun", "done"}, "killed at once the first time, after the end the last"
