"""Zip files that mean harm or are broken are seen before anything is written."""

from __future__ import annotations

import io
import os
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from speech.errors import ModelRefused
from speech.shelf import archive
from speech.shelf.archive import looked_at, sealed, unpack
from tests.helpers.speech_models import LOOKS, REAL, packed, standing, zipped

MODEL = {f"a-model-en/{name}": content for name, content in LOOKS.items()}


def refused(place: Path, content: bytes) -> str:
    path = place / "a.zip"
    path.write_bytes(content)
    with pytest.raises(ModelRefused) as failed:
        looked_at(path)
    return failed.value.why


@pytest.fixture(autouse=True)
def inside(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("../evil", "points outside"),
        ("a-model-en/../../evil", "points outside"),
        ("/evil", "points outside"),
        ("a-model-en\\..\\..\\evil", "points outside"),
        ("C:evil", "points outside"),
        ("a-model-en/\nevil", "is no usable name"),
        ("a-model-en/\u202eevil", "is no usable name"),
        ("a-model-en/" + "x" * 300, "is no usable name"),
    ],
)
def test_names_that_lead_astray(tmp_path: Path, name: str, why: str) -> None:
    assert why in refused(tmp_path, zipped(MODEL | {name: b"x"}))
    assert [path.name for path in tmp_path.rglob("*evil*")] == []


def odd(change: Callable[[zipfile.ZipInfo], None], name: str = "a-model-en/link") -> bytes:
    made = io.BytesIO(zipped(MODEL))
    with zipfile.ZipFile(made, "a") as zipped_:
        member = zipfile.ZipInfo(name)
        change(member)
        zipped_.writestr(member, "/etc/passwd")
    return made.getvalue()


@pytest.mark.parametrize(
    ("kind", "why"),
    [(stat.S_IFLNK, "is a link"), (stat.S_IFIFO, "neither file nor folder"), (stat.S_IFCHR, "neither file nor folder")],
)
def test_links_and_devices(tmp_path: Path, kind: int, why: str) -> None:
    assert why in refused(tmp_path, odd(lambda member: setattr(member, "external_attr", (kind | 0o777) << 16)))


def test_other_ways_of_packing(tmp_path: Path) -> None:
    assert "packed in a way" in refused(
        tmp_path, odd(lambda member: setattr(member, "compress_type", zipfile.ZIP_BZIP2))
    )


def test_a_locked_file(tmp_path: Path) -> None:
    content = bytearray(zipped(MODEL))
    content[content.index(b"PK\x01\x02") + 8] |= 1
    assert "locked with a password" in refused(tmp_path, bytes(content))


def test_names_that_fall_on_one_another(tmp_path: Path) -> None:
    assert "a name twice" in refused(tmp_path, zipped(MODEL | {"a-model-en/AM/Final.mdl": b"x"}))
    assert "also a folder" in refused(tmp_path, zipped(MODEL | {"a-model-en/am": b"x"}))


def test_a_file_that_grows_and_grows(tmp_path: Path) -> None:
    assert "times its size" in refused(tmp_path, zipped(MODEL | {"a-model-en/big": bytes(20_000_000)}))


def test_bounds_of_size_and_number(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive, "LARGEST_BYTES", 10)
    assert "would unpack to" in refused(tmp_path, zipped(MODEL))
    assert "larger than" in refused_folder(standing(tmp_path / "m"))
    monkeypatch.setattr(archive, "MOST_FILES", 2)
    assert "more than 2 files" in refused(tmp_path, zipped(MODEL))
    assert "more than 2 files" in refused_folder(tmp_path / "m")


def refused_folder(folder: Path) -> str:
    with pytest.raises(ModelRefused) as failed:
        looked_at(folder)
    return failed.value.why


def test_a_size_that_lies_writes_no_more_than_it_says(tmp_path: Path) -> None:
    content = zipped(MODEL | {"a-model-en/big": bytes(500_000)})
    real = (500_000).to_bytes(4, "little")
    assert content.count(real) == 2
    path = tmp_path / "a.zip"
    path.write_bytes(content.replace(real, (5_000).to_bytes(4, "little")))
    with pytest.raises(ModelRefused, match="damaged"):
        unpack(path, looked_at(path), tmp_path / "out" / "model")
    assert (tmp_path / "out" / "model" / "big").stat().st_size <= 5_000


@pytest.mark.parametrize("at", [0.1, 0.5, 0.9, 1.0])
def test_a_torn_file(tmp_path: Path, at: float) -> None:
    content = packed()
    assert "damaged or none" in refused(tmp_path, content[: int(len(content) * at) - 1])


def test_a_damaged_file_is_noticed_while_it_is_written(tmp_path: Path) -> None:
    content = bytearray(packed())
    content[len(content) // 2] ^= 0xFF
    path = tmp_path / "a.zip"
    path.write_bytes(content)
    with pytest.raises(ModelRefused, match="damaged"):
        unpack(path, looked_at(path), tmp_path / "out" / "model")


def test_no_zip_file_no_model_two_models(tmp_path: Path) -> None:
    assert "damaged or none" in refused(tmp_path, b"<html>not found</html>")
    assert "damaged or none" in refused(tmp_path, b"")
    assert "no Vosk model" in refused(tmp_path, zipped({"readme.txt": b"hello"}))
    assert "2 models" in refused(tmp_path, zipped(MODEL | {"other/am/final.mdl": b"x"}))
    (tmp_path / "empty").mkdir()
    assert "no Vosk model" in refused_folder(tmp_path / "empty")


@pytest.mark.parametrize("root", ["a-model-en", ".", "deep/down/a-model-en"])
def test_only_the_model_is_unpacked_wherever_it_stands(tmp_path: Path, root: str) -> None:
    path = tmp_path / "a.zip"
    path.write_bytes(packed(root))
    if root != ".":
        with zipfile.ZipFile(path, "a") as more:
            more.writestr("read-me.txt", "hello")
    parcel = looked_at(path)
    assert parcel.name == ("" if root == "." else "a-model-en")
    unpack(path, parcel, tmp_path / "out" / "model")
    assert sealed(tmp_path / "out" / "model") == sealed(REAL)


def test_the_older_layout_is_a_model_too(tmp_path: Path) -> None:
    path = tmp_path / "a.zip"
    path.write_bytes(zipped({"old-en/final.mdl": b"x", "old-en/mfcc.conf": b"x", "old-en/HCLG.fst": b"x"}))
    assert set(looked_at(path).files) == {"final.mdl", "mfcc.conf", "HCLG.fst"}


def test_a_folder_or_the_folder_around_it(tmp_path: Path) -> None:
    model = standing(tmp_path / "around" / "a-model-en")
    for place in (model, model.parent):
        parcel = looked_at(place)
        assert (parcel.name, set(parcel.files)) == ("a-model-en", set(LOOKS))
    unpack(model, parcel, tmp_path / "out" / "model")
    assert sealed(tmp_path / "out" / "model") == sealed(model)
    standing(tmp_path / "around" / "second")
    assert "2 models" in refused_folder(model.parent)


def test_the_checksum_of_a_folder_is_that_of_its_names_and_contents(tmp_path: Path) -> None:
    first = sealed(standing(tmp_path / "a"))
    assert first == sealed(standing(tmp_path / "b"))
    assert first != sealed(standing(tmp_path / "c", LOOKS | {"graph/Gr.fst": b"+"}))
    assert first != sealed(standing(tmp_path / "d", {("x" + name): content for name, content in LOOKS.items()}))


def test_a_pipe_in_a_folder_is_not_read(tmp_path: Path) -> None:
    os.mkfifo(standing(tmp_path / "m") / "pipe")
    assert "not a file that can be copied" in refused_folder(tmp_path / "m")
