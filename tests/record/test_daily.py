"""The copy of a day: begun with its first turn, in a process of its own; the oldest go."""

from __future__ import annotations

import os
import time
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from bot.cli import app
from bot.doctor.finding import FindingMark
from bot.doctor.record import copies
from bot.record.daily import DailyBackup, begin
from bot.record.rotation import Rotation
from bot.settings import Settings
from engine.database import Database, open_database
from engine.dialog.facts.events import Switched
from engine.errors import DatabaseError, InputError
from engine.facts import write_fact
from engine.history.copies.backup import backup
from engine.history.store.journal import Journal
from tests.helpers.turns import new_turn

DAY = date(2026, 4, 21)
FACT = write_fact(Switched(language="en"))


class Calendar:
    def __init__(self) -> None:
        self.day = DAY

    def __call__(self) -> date:
        return self.day


def opened(folder: Path, turns: int = 2) -> Database:
    record = open_database(folder / "record.db")
    for number in range(1, turns + 1):
        Journal(record).append(new_turn(number, FACT))
    return record


def rotation(folder: Path, kept: int = 3) -> Rotation:
    return Rotation(folder / "record.db", folder / "backups", kept)


def test_the_first_turn_of_a_day_begins_its_copy_and_no_other_does(tmp_path: Path) -> None:
    record, today, begun = opened(tmp_path), Calendar(), list[Path]()
    daily = DailyBackup(rotation(tmp_path), record, today, lambda _, copy: begun.append(copy))
    for _ in range(3):
        daily()
    today.day += timedelta(days=1)
    daily()
    assert [copy.name for copy in begun] == ["record-2026-04-21.db", "record-2026-04-22.db"]
    record.close()


def test_a_record_that_begins_today_and_a_day_that_has_its_copy_are_left_alone(tmp_path: Path) -> None:
    record, today, begun = opened(tmp_path, 1), Calendar(), list[Path]()
    DailyBackup(rotation(tmp_path), record, today, lambda _, copy: begun.append(copy))()
    Journal(record).append(new_turn(2, FACT))
    backup(tmp_path / "record.db", rotation(tmp_path).copy_of(DAY))
    DailyBackup(rotation(tmp_path), record, today, lambda _, copy: begun.append(copy))()
    assert begun == []
    record.close()


def test_a_copy_that_cannot_be_begun_costs_no_turn(tmp_path: Path) -> None:
    def fail(_: Rotation, copy: Path) -> None:
        raise OSError("no more processes")

    record = opened(tmp_path)
    DailyBackup(rotation(tmp_path), record, Calendar(), fail)()
    assert Journal(record).append(new_turn(3, FACT)).seq == 3
    record.close()


def test_the_copy_is_made_by_a_process_of_its_own(tmp_path: Path) -> None:
    record, copy = opened(tmp_path), rotation(tmp_path).copy_of(DAY)
    begin(rotation(tmp_path), copy)
    until = time.monotonic() + 60
    while not copy.exists() and time.monotonic() < until:
        time.sleep(0.05)
    kept = open_database(copy)
    assert Journal(kept).turns("c1") == Journal(record).turns("c1")
    kept.close()
    record.close()


def test_the_newest_copies_stay(tmp_path: Path) -> None:
    record, copied = opened(tmp_path), rotation(tmp_path)
    mine = tmp_path / "backups" / "record-mine.db"
    for day in range(5):
        copied.take(copied.copy_of(DAY + timedelta(days=day)))
        mine.touch()
    assert [path.name for path in copied.copies()] == [f"record-2026-04-{day}.db" for day in (25, 24, 23)]
    assert copied.newest() == date(2026, 4, 25) and mine.exists()
    record.close()


def test_a_record_that_does_not_agree_with_itself_drives_no_good_copy_out(tmp_path: Path) -> None:
    record, copied = opened(tmp_path), rotation(tmp_path, kept=1)
    copied.take(copied.copy_of(DAY))
    with record.begin() as connection:
        connection.exec_driver_sql("DROP TRIGGER fact_no_update")
        connection.exec_driver_sql("UPDATE fact SET row = 9")
    assert "beside it stands 9" in str(copied.take(copied.copy_of(DAY + timedelta(days=1))).difference)
    assert len(copied.copies()) == 2
    record.close()


def test_parts_of_a_copy_that_was_killed_are_swept_once_they_are_old(tmp_path: Path) -> None:
    record, copied = opened(tmp_path), rotation(tmp_path)
    copied.folder.mkdir()
    old, new = (copied.folder / f".record-2026-04-2{day}.db.abc.part" for day in (0, 1))
    old.touch(), new.touch()
    os.utime(old, (0, 0))
    copied.take(copied.copy_of(DAY))
    assert (old.exists(), new.exists()) == (False, True)
    record.close()


def test_where_copies_are_kept_is_a_setting(tmp_path: Path) -> None:
    def of(**given: object) -> Rotation | None:
        return Rotation.of(Settings(**{"database": str(tmp_path / "record.db"), **given}))  # type: ignore[arg-type]

    assert of() == Rotation(tmp_path / "record.db", tmp_path / "backups", 7)
    assert of(backups=tmp_path / "disk", backups_kept=2) == Rotation(tmp_path / "record.db", tmp_path / "disk", 2)
    assert of(backups_kept=0) is of(database=":memory:") is of(database="postgresql://farm/record") is None


def test_the_doctor_says_how_old_the_newest_copy_is(tmp_path: Path) -> None:
    settings = Settings(database=str(tmp_path / "record.db"))
    assert list(copies(settings, DAY)) == []
    record, copied = opened(tmp_path), rotation(tmp_path)
    assert [one.mark for one in copies(settings, DAY)] == [FindingMark.NOTE]
    copied.take(copied.copy_of(DAY))
    (fresh,) = copies(settings, DAY + timedelta(days=2))
    (stale,) = copies(settings, DAY + timedelta(days=3))
    assert (fresh.mark, stale.mark) == (FindingMark.OK, FindingMark.NOTE)
    assert "the newest of 2026-04-21" in fresh.told and "is of 2026-04-21" in stale.told
    (none,) = copies(Settings(database=settings.database, backups_kept=0), DAY)
    assert none.mark is FindingMark.NOTE
    record.close()


def ran(*words: object) -> str:
    done = CliRunner().invoke(app, ["record", *map(str, words)], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def test_the_commands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ROWHAND_TIME_ZONE", "UTC")
    opened(tmp_path).close()
    place, copy = tmp_path / "record.db", tmp_path / "copy.db"
    agree = "2 turns with 2 facts in 1 conversations, all agree"
    assert ran("check", "--db", place) == f"{place}: {agree}\n"
    assert ran("backup", copy, "--db", place) == f"{copy}: {agree}\n"
    assert ran("restore", copy, "--db", place) == f"{place}: {agree}\n"
    today = tmp_path / "backups" / f"record-{datetime.now(UTC):%Y-%m-%d}.db"
    assert ran("backup", "--db", place) == f"{today}: {agree}\n"
    place.write_bytes(bytes(5000))
    assert f"the damaged record lies in {place}.damaged-" in ran("restore", copy, "--db", place)
    archive, new = tmp_path / "all.zip", tmp_path / "new.db"
    assert ran("export", archive, "--db", place) == f"{archive}: 2 turns in 1 conversations\n"
    assert ran("import", archive, "--db", new) == f"{new}: 2 turns in 1 conversations, all as written\n"
    with pytest.raises(DatabaseError, match="is not empty"):
        ran("import", archive, "--db", new)
    with pytest.raises(InputError, match="no archive"):
        ran("import", copy, "--db", tmp_path / "none.db")
    assert not (tmp_path / "none.db").exists()
    for words in (("backup", copy), ("restore", copy)):
        with pytest.raises(InputError, match="only the file of a record is copied"):
            ran(*words, "--db", "postgresql://farm/record")
    monkeypatch.setenv("ROWHAND_BACKUPS_KEPT", "0")
    with pytest.raises(InputError, match="no daily copies are kept"):
        ran("backup", "--db", place)
