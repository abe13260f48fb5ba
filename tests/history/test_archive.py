"""A whole record into one file, and from there into another record: all of it or nothing."""

from __future__ import annotations

import hashlib
import json
import shutil
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import nullcontext
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bot.record.what import What
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.errors import ArchiveRefused, DatabaseError, InputError
from engine.history import archive as archives
from engine.history import digest, tables
from engine.history.archive import FORMAT, MANIFEST, TRAVELLING, Row, member, open_archive
from engine.history.journal import Journal
from engine.history.transfer import export_record, import_record
from engine.messages import Utterance
from engine.outbox import Outbox
from engine.reminders.schedule import Schedule
from tests.golden.night import FOLDER
from tests.golden.write import lines
from tests.helpers.process import ROOT, python, run_lines
from tests.helpers.record import servers_only, where
from tests.helpers.reminding import body
from tests.helpers.turns import new_turn
from tests.helpers.whole_record import CHAT, LATER, content, fill

IMPORTER = str(ROOT / "tests/helpers/importer.py")
SLOW = settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Database]:
    opened = open_database(where(tmp_path_factory.mktemp("filled") / "record.db"))
    fill(opened)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def packed(filled: Database, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("packed") / "record.zip"
    export_record(filled, place)
    return place


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive of a short record, which is soon read."""
    folder = tmp_path_factory.mktemp("small")
    record = open_database(folder / "record.db")
    for number in (1, 2, 3):
        Journal(record).append(new_turn(number, sends=1))
    export_record(record, folder / "record.zip")
    record.close()
    return folder / "record.zip"


def take(place: Path, database: Database) -> None:
    with open_archive(place) as archive:
        archive.verify()
        import_record(archive, database)


def is_empty(database: Database) -> bool:
    found = content(database)
    return {name for name, rows in found.items() if rows} == {tables.version.name}


def remade(place: Path, new: Path, **changed: bytes) -> Path:
    """The archive with other files in it, by table, and a manifest that agrees with them."""
    with zipfile.ZipFile(place) as old, zipfile.ZipFile(new, "w", zipfile.ZIP_DEFLATED) as made:
        manifest = json.loads(old.read(MANIFEST))
        for table in TRAVELLING:
            text = changed.get(table.name, old.read(member(table)))
            told = {"rows": text.count(b"\n"), "bytes": len(text), "sha256": hashlib.sha256(text).hexdigest()}
            manifest["tables"][table.name] = told
            made.writestr(member(table), text)
        made.writestr(MANIFEST, json.dumps(manifest))
    return new


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
    new = open_database(where(tmp_path / "new.db"))
    take(FOLDER / f"archive-{number}.zip", new)
    for what in What:
        assert lines(new, what) != []
    new.close()


def test_tables_that_change_need_another_format() -> None:
    shape = [(one.name, [(c.name, str(c.type), c.nullable) for c in one.columns]) for one in TRAVELLING]
    found = hashlib.sha256(json.dumps(sorted(shape)).encode()).hexdigest()[:12]
    assert (FORMAT, found) == (1, "ef93820229d4"), "raise FORMAT and add a step to STEPS in engine/history/archive.py"


def test_an_archive_of_an_earlier_format_is_brought_up(
    packed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def renamed(table: str, row: Row) -> Row:
        return row | {"state": "sent"} if table == "outbox" else row

    monkeypatch.setattr(archives, "FORMAT", 2)
    monkeypatch.setattr(archives, "STEPS", {1: renamed})
    new = open_database(where(tmp_path / "new.db"))
    take(packed, new)
    assert {row["state"] for row in content(new)["outbox"]} == {"sent"}
    new.close()


# ---- refused


def test_a_record_that_is_not_empty_is_left_as_it_is(small: Path, tmp_path: Path) -> None:
    record = open_database(where(tmp_path / "record.db"))
    Journal(record).append(new_turn(1, conversation="mine"))
    before = content(record)
    with pytest.raises(DatabaseError, match="is not empty"):
        take(small, record)
    assert content(record) == before
    record.close()


@pytest.mark.parametrize("field", ["rowhand_archive", "facts"])
def test_an_archive_of_a_newer_program_is_refused(small: Path, tmp_path: Path, field: str) -> None:
    newer = tmp_path / "newer.zip"
    with zipfile.ZipFile(small) as old, zipfile.ZipFile(newer, "w") as made:
        for table in TRAVELLING:
            made.writestr(member(table), old.read(member(table)))
        made.writestr(MANIFEST, json.dumps(json.loads(old.read(MANIFEST)) | {field: 99}))
    with pytest.raises(ArchiveRefused, match="newer Rowhand"), open_archive(newer):
        pass


def other_files(folder: Path, small: Path) -> Iterator[Path]:
    for name, text in {"empty": b"", "words": b"row one forty nine\n", "zeros": bytes(5000)}.items():
        (folder / name).write_bytes(text)
        yield folder / name
    yield from (folder, folder / "missing", small.parent / "record.db")
    with zipfile.ZipFile(folder / "other.zip", "w") as made:
        made.writestr("a.txt", "a")
    yield folder / "other.zip"
    (folder / "cut.zip").write_bytes(small.read_bytes()[:-40])
    yield folder / "cut.zip"


def test_something_else_is_refused(small: Path, tmp_path: Path) -> None:
    found = list(other_files(tmp_path, small))
    assert len(found) == 8
    for place in found:
        with pytest.raises(ArchiveRefused), open_archive(place):
            pass


@pytest.mark.parametrize("name", ["../evil.jsonl", "/evil.jsonl", "fact.jsonl", "tables/", "C:\\evil"])
def test_other_names_are_refused_before_anything_is_read(small: Path, tmp_path: Path, name: str) -> None:
    place = Path(shutil.copy(small, tmp_path / "more.zip"))
    with zipfile.ZipFile(place, "a") as made, pytest.warns() if name == "fact.jsonl" else nullcontext():
        made.writestr(name, "{}\n")
    with pytest.raises(ArchiveRefused, match="other files"), open_archive(place):
        pass
    assert sorted(path.name for path in tmp_path.iterdir()) == ["more.zip"]


def test_what_grows_beyond_bounds_is_refused_before_anything_is_unpacked(small: Path, tmp_path: Path) -> None:
    place = remade(small, tmp_path / "bomb.zip", outbox=b" " * (archives.SMALL + 1) + b"\n")
    assert place.stat().st_size < 100_000
    with pytest.raises(ArchiveRefused, match="grow beyond bounds"), open_archive(place):
        pass


def test_a_record_of_one_line_said_again_and_again_is_no_bomb(tmp_path: Path) -> None:
    old, new = open_database(tmp_path / "old.db"), open_database(tmp_path / "new.db")
    for number in range(1, 301):
        Journal(old).append(new_turn(number, {"kind": "note"}))
    manifest = export_record(old, tmp_path / "same.zip")
    with zipfile.ZipFile(tmp_path / "same.zip") as packed:
        grown = max(one.file_size / one.compress_size for one in packed.infolist() if one.file_size > 10_000)
    assert grown < archives.MOST_GROWTH
    take(tmp_path / "same.zip", new)
    assert manifest.conversations["c1"].turns == Journal(new).last("c1") == 300
    old.close()
    new.close()


def test_a_file_that_is_there_is_not_written_over(filled: Database, tmp_path: Path) -> None:
    place = tmp_path / "mine.zip"
    place.write_text("mine")
    with pytest.raises(InputError, match="is there already"):
        export_record(filled, place)
    assert place.read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["mine.zip"]


def test_an_archive_is_its_owners_alone(packed: Path) -> None:
    assert packed.stat().st_mode & 0o077 == 0


# ---- damaged


@SLOW
@given(data=st.data())
def test_a_damaged_archive_is_refused_or_is_not_damaged(small: Path, tmp_path: Path, data: st.DataObject) -> None:
    raw = bytearray(small.read_bytes())
    for place in data.draw(st.lists(st.integers(0, len(raw) - 1), min_size=1, max_size=4)):
        raw[place] ^= data.draw(st.integers(1, 255))
    damaged = tmp_path / "damaged.zip"
    damaged.write_bytes(raw[: data.draw(st.one_of(st.just(len(raw)), st.integers(0, len(raw))))])
    record = open_database(":memory:")
    try:
        take(damaged, record)
    except ArchiveRefused:
        assert is_empty(record)
    else:
        assert [row["seq"] for row in content(record)["turn"]] == [1, 2, 3]
    finally:
        record.close()


ANY = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**70), 2**70) | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=2) | st.dictionaries(st.text(max_size=5), inner, max_size=2),
    max_leaves=4,
)


@SLOW
@given(data=st.data())
def test_an_archive_made_by_hand_is_taken_whole_or_not(packed: Path, tmp_path: Path, data: st.DataObject) -> None:
    table = data.draw(st.sampled_from(TRAVELLING))
    with zipfile.ZipFile(packed) as old:
        rows = [json.loads(line) for line in old.read(member(table)).splitlines()]
    row = data.draw(st.sampled_from(rows))
    row[data.draw(st.sampled_from(sorted(row)))] = data.draw(ANY)
    text = b"".join(json.dumps(one).encode() + b"\n" for one in rows)
    record = open_database(":memory:")
    try:
        take(remade(packed, tmp_path / "made.zip", **{table.name: text}), record)
    except ArchiveRefused:
        assert is_empty(record)
    else:
        assert len(content(record)[table.name]) == len(rows)
    finally:
        record.close()


@pytest.mark.parametrize("table", ["turn", "fact", "conversation", "script"])
def test_a_line_that_is_gone_is_noticed(packed: Path, tmp_path: Path, table: str) -> None:
    with zipfile.ZipFile(packed) as old:
        lines = old.read(f"{table}.jsonl").splitlines(keepends=True)
    record = open_database(where(tmp_path / "record.db"))
    made = remade(packed, tmp_path / "made.zip", **{table: b"".join(lines[:-1])})
    if table == "script":
        take(made, record)
        return record.close()
    with pytest.raises(ArchiveRefused, match="hold together"):
        take(made, record)
    assert is_empty(record)
    return record.close()


def test_killed_while_it_is_taken_in_the_record_is_empty_or_whole(packed: Path, tmp_path: Path) -> None:
    chance, found = Random(20260421), []
    for number in range(8):
        place = where(tmp_path / f"{number}.db")
        command = python(IMPORTER, str(packed), place)
        done = run_lines(command, ["go"], kill_after=1, pause=chance.uniform(0, 0.6))
        record = open_database(place)
        rows = {name for name, many in content(record).items() if many}
        assert rows in ({tables.version.name}, set(content(record))), done.errors
        found.append(len(rows))
        if len(rows) == 1:
            take(packed, record)
        assert len(content(record)["turn"]) == 33
        record.close()
    assert len(set(found)) == 2, "kills hit before and after the end"


def test_a_change_after_the_export_is_noticed(packed: Path, filled: Database, tmp_path: Path) -> None:
    """What is compared is what is there: a database that keeps something else is found out."""
    record = open_database(":memory:")
    with record.begin() as connection:
        connection.exec_driver_sql(
            "CREATE TRIGGER forgets AFTER INSERT ON reminder BEGIN UPDATE reminder SET asked = 9 WHERE id = new.id; END"
        )
    with pytest.raises(ArchiveRefused, match="not what was written"):
        take(packed, record)
    assert is_empty(record)
    record.close()
