"""What is no archive of a record, is damaged, or was made by hand: refused whole, and the record is as it was."""

from __future__ import annotations

import json
import shutil
import zipfile
from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from engine.database import Database, open_database
from engine.errors import ArchiveRefused, DatabaseError, InputError
from engine.history.copies import archive as archives
from engine.history.copies.archive import MANIFEST, TRAVELLING, member, open_archive
from engine.history.copies.transfer import export_record
from engine.history.store.journal import Journal
from tests.helpers.archives import is_empty, remade, take
from tests.helpers.record import where
from tests.helpers.turns import new_turn
from tests.helpers.whole_record import content

SLOW = settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])


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


@pytest.mark.campaign
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
