"""A whole record into one file, and from there into another record: all of it or nothing."""

from __future__ import annotations

import hashlib
import json
import shutil
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest

from bot.record.record_part import RecordPart
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.history.copies import archive as archives
from engine.history.copies import digest
from engine.history.copies.archive import FORMAT, TRAVELLING, Row, open_archive
from engine.history.copies.transfer import export_record
from engine.history.store import tables
from engine.history.store.journal import Journal
from engine.messages import Utterance
from engine.queues.outbox import Outbox
from engine.reminders.schedule import Schedule
from tests.golden.night import FOLDER
from tests.golden.write import lines
from tests.helpers.archives import take
from tests.helpers.process import ROOT, python, run_lines
from tests.helpers.record import servers_only, where
from tests.helpers.reminding import body
from tests.helpers.turns import new_turn
from tests.helpers.whole_record import CHAT, LATER, content, fill

IMPORTER = str(ROOT / "tests/helpers/importer.py")


# ---- whole


def test_everything_travels_and_goes_on(filled: Database, packed: Path, tmp_path: Path) -> None:
    new = open_database(where(tmp_path / "new.db"))
    take(packed, new)
    before, there = content(filled), content(new)
    assert there == before
    assert {name for name, rows in before.items() if not rows} == set(), "a table that this test leaves empty"
    with filled.read() as old, new.read() as moved:
        assert digest.states(moved) == digest.states(old) != {}
    said = Utterance(id="later", conversation=CHAT, text="all good", language="en", said_at=LATER)
    assert Assistant(new).hear(said).seq == Journal(filled).last(CHAT) + 1
    new.close()


def test_what_still_rings_rings_and_what_waits_is_sent(packed: Path, tmp_path: Path) -> None:
    new = open_database(where(tmp_path / "new.db"))
    take(packed, new)
    assert Schedule(new).tick(LATER, body)
    sent = Outbox(new).claim("another worker", LATER, timedelta(minutes=1))
    assert [one.key for one in sent][:1] == ["k1"], "the lease of the program before is given up"
    new.close()


def test_what_was_taken_in_is_written_the_same_again(packed: Path, tmp_path: Path) -> None:
    new = open_database(where(tmp_path / "new.db"))
    take(packed, new)
    again = export_record(new, tmp_path / "again.zip")
    with open_archive(packed) as archive:
        assert again == archive.manifest
    new.close()


@servers_only
def test_from_a_file_to_a_server_and_back(tmp_path: Path) -> None:
    file, server = open_database(tmp_path / "file.db"), open_database(where(tmp_path / "server.db"))
    assert server.engine.dialect.name == "postgresql"
    fill(file)
    export_record(file, tmp_path / "out.zip")
    take(tmp_path / "out.zip", server)
    held = json.loads(json.dumps(content(file), default=str).replace("\\u0000", "\\ufffd"))
    assert json.loads(json.dumps(content(server), default=str)) == held
    Journal(server).append(new_turn(1, conversation="after the move"))
    Outbox(server).mark_sent("k1", "k2")
    export_record(server, tmp_path / "back.zip")
    back = open_database(tmp_path / "back.db")
    take(tmp_path / "back.zip", back)
    assert content(back) == content(server)
    for one in (file, server, back):
        one.close()


def test_an_export_sees_one_moment_of_a_record_that_goes_on(tmp_path: Path) -> None:
    record, copy = open_database(where(tmp_path / "busy.db")), open_database(where(tmp_path / "copy.db"))
    journal = Journal(record)

    def go_on() -> None:
        for number in range(1, 200):
            journal.append(new_turn(number, {"kind": "note", "number": number}, sends=1))

    with ThreadPoolExecutor(1) as pool:
        writing = pool.submit(go_on)
        counts = []
        for number in range(3):
            while journal.last("c1") < 20 * (number + 1):
                pass
            manifest = export_record(record, tmp_path / f"{number}.zip")
            counts.append(manifest.conversations["c1"].turns)
            assert {manifest.tables[name].rows for name in ("turn", "fact", "outbox")} == {counts[-1]}
        writing.result(60)
    assert counts == sorted(counts)
    take(tmp_path / "1.zip", copy)
    assert Journal(copy).turns("c1") == journal.turns("c1")[: counts[1]]
    record.close()
    copy.close()


def test_facts_that_cannot_be_read_travel_as_they_are(tmp_path: Path) -> None:
    old, new = open_database(where(tmp_path / "old.db")), open_database(where(tmp_path / "new.db"))
    Journal(old).append(new_turn(1, {"kind": "of another world", "format": 1}))
    export_record(old, tmp_path / "odd.zip")
    take(tmp_path / "odd.zip", new)
    assert Journal(new).turns("c1") == Journal(old).turns("c1")
    old.close()
    new.close()


@pytest.mark.parametrize("golden", sorted(FOLDER.glob("format-*")), ids=lambda path: path.name)
def test_records_of_earlier_releases_travel(golden: Path, tmp_path: Path) -> None:
    old = open_database(shutil.copy(golden / "record.db", tmp_path / "old.db"))
    new = open_database(where(tmp_path / "new.db"))
    export_record(old, tmp_path / "record.zip")
    take(tmp_path / "record.zip", new)
    assert content(new) == content(old)
    old.close()
    new.close()


# ---- the format


@pytest.mark.parametrize("number", range(1, FORMAT + 1))
def test_a_golden_archive_of_every_format_is_taken(number: int, tmp_path: Path) -> None:
    """The first one was written from the golden record of the second format of facts."""
    new = open_database(where(tmp_path / "new.db"))
    take(FOLDER / f"archive-{number}.zip", new)
    old = open_database(shutil.copy(FOLDER / "format-2" / "record.db", tmp_path / "old.db"))
    for what in RecordPart:
        assert lines(new, what) == lines(old, what)
    old.close()
    new.close()


def test_tables_that_change_need_another_format() -> None:
    shape = [(one.name, [(c.name, str(c.type), c.nullable) for c in one.columns]) for one in TRAVELLING]
    found = hashlib.sha256(json.dumps(sorted(shape)).encode()).hexdigest()[:12]
    assert (FORMAT, found) == (4, "8138b34cb2bd"), (
        "raise FORMAT and add a step to STEPS in engine/history/copies/archive.py"
    )


def test_an_archive_of_an_earlier_format_is_brought_up(
    packed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def renamed(table: str, row: Row) -> Row:
        return row | {"state": "sent"} if table == "outbox" else row

    monkeypatch.setattr(archives, "FORMAT", FORMAT + 1)
    monkeypatch.setattr(archives, "STEPS", {**archives.STEPS, FORMAT: renamed})
    new = open_database(where(tmp_path / "new.db"))
    take(packed, new)
    assert {row["state"] for row in content(new)["outbox"]} == {"sent"}
    new.close()


def test_killed_while_it_is_taken_in_the_record_is_empty_or_whole(packed: Path, tmp_path: Path) -> None:
    chance, found = Random(20260421), []
    for number in range(4):
        place = where(tmp_path / f"{number}.db")
        command = python(IMPORTER, str(packed), place)
        done = run_lines(command, ["go"], kill_after=1 + number // 3, pause=chance.uniform(0, 0.1 * number))
        record = open_database(place)
        rows = {name for name, many in content(record).items() if many}
        assert rows in ({tables.version.name}, set(content(record))), done.errors
        found.append(len(rows))
        if len(rows) == 1:
            take(packed, record)
        assert len(content(record)["turn"]) == 33
        record.close()
    assert min(found) == 1 and found[-1] > 1, "killed before the end, the last time after it"
