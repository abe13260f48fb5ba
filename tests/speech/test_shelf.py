"""Which model of a language is used: the chosen one, the one put there, the one that came along."""

from __future__ import annotations

import multiprocessing
import os
from pathlib import Path

import pytest

from speech import recognizer_choice
from speech.errors import ModelRefused, ShelfFailed
from speech.shelf.model_store import SHIPPED, ModelChoice, Origin, Shelf, fault
from tests.helpers.speech_models import LOOKS, REAL, standing


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    standing(tmp_path / "shipped" / "en")
    return Shelf(tmp_path / "models", tmp_path / "shipped")


def used(shelf: Shelf, language: str = "en") -> Path | None:
    return next(shelf.models(language), None)


def test_the_one_that_came_along_without_any_other(shelf: Shelf) -> None:
    assert used(shelf) == shelf.shipped / "en"
    assert used(shelf, "es") is None


def test_the_one_put_there_goes_before_it_and_the_chosen_before_both(shelf: Shelf) -> None:
    standing(shelf.folder / "en")
    assert used(shelf) == shelf.folder / "en"
    standing(shelf.installed / "en-a")
    assert used(shelf) == shelf.folder / "en"
    shelf.choose("en", ModelChoice("installed/en-a"))
    assert used(shelf) == shelf.installed / "en-a"
    assert used(shelf, "es") is None
    shelf.choose("en", ModelChoice(SHIPPED))
    assert used(shelf) == shelf.shipped / "en"


def test_a_choice_that_is_gone_counts_as_none(shelf: Shelf, tmp_path: Path) -> None:
    stick = standing(tmp_path / "stick")
    shelf.choose("en", ModelChoice(str(stick), 1_000_000))
    assert used(shelf) == stick
    stick.rename(tmp_path / "pulled")
    assert used(shelf) == shelf.shipped / "en"
    first, gone = shelf.standings("en")
    assert (first.in_use, gone.in_use) == (True, False)
    assert (gone.origin, gone.path, gone.fault) == (Origin.ELSEWHERE, stick, "it is not there")


def test_the_shelf_may_be_moved(shelf: Shelf, tmp_path: Path) -> None:
    standing(shelf.installed / "en-a")
    shelf.choose("en", ModelChoice("installed/en-a"))
    shelf.folder.rename(tmp_path / "moved")
    assert used(Shelf(tmp_path / "moved", shelf.shipped)) == tmp_path / "moved" / "installed" / "en-a"


@pytest.mark.parametrize("torn", [b"", b"{", b"[]", b'"shipped"', b'{"name": 1}', b"\xff\xfe", b"null"])
def test_a_choice_that_cannot_be_read_counts_as_none(shelf: Shelf, torn: bytes) -> None:
    shelf.folder.mkdir()
    (shelf.folder / "en.use").write_bytes(torn)
    assert used(shelf) == shelf.shipped / "en"


def test_nothing_shipped_cannot_be_chosen(shelf: Shelf) -> None:
    with pytest.raises(ModelRefused, match="no model for 'es'"):
        shelf.choose("es", ModelChoice(SHIPPED))
    assert shelf.choice("es") is None


def test_a_place_whose_name_is_no_text(shelf: Shelf, tmp_path: Path) -> None:
    odd = standing(tmp_path / os.fsdecode(b"stick\xff\nen"))
    shelf.choose("en", ModelChoice(str(odd)))
    assert used(shelf) == odd


def test_what_stands_there_with_its_faults(shelf: Shelf) -> None:
    standing(shelf.folder / "en", {"readme": b"x"})
    standing(shelf.installed / "en-whole")
    standing(shelf.installed / "en-torn", LOOKS | {"graph/Gr.fst": b""})
    standing(shelf.installed / "es-other")
    shelf.choose("en", ModelChoice("installed/en-whole", 130_000_000))
    told = {one.name: one for one in shelf.standings("en")}
    assert list(told) == [SHIPPED, "en", "en-torn", "en-whole"]
    assert {name: one.fault for name, one in told.items() if one.fault} == {
        "en": "there is no final.mdl in it",
        "en-torn": "graph/Gr.fst is missing or empty",
    }
    assert [one.name for one in told.values() if one.in_use] == ["en-whole"]
    assert {name: one.memory_bytes for name, one in told.items() if one.memory_bytes} == {"en-whole": 130_000_000}
    assert told["en-whole"].size_bytes == sum(map(len, LOOKS.values()))


@pytest.mark.parametrize("lacking", LOOKS)
def test_a_fault_names_what_is_missing(tmp_path: Path, lacking: str) -> None:
    folder = standing(tmp_path / "m")
    assert fault(folder) is None
    (folder / lacking).unlink()
    assert lacking.rpartition("/")[2] in (fault(folder) or "")


def test_either_graph_and_either_layout_will_do(tmp_path: Path) -> None:
    fixed = {name: content for name, content in LOOKS.items() if not name.startswith("graph")}
    assert fault(standing(tmp_path / "a", fixed | {"graph/HCLG.fst": b"x"})) is None
    assert fault(standing(tmp_path / "b", {"final.mdl": b"x", "mfcc.conf": b"x", "HCLG.fst": b"x"})) is None
    assert fault(REAL) is None


def test_only_one_process_installs_at_a_time(shelf: Shelf) -> None:
    standing(shelf.installed / ".new-1")
    with shelf.at_work():
        assert not (shelf.installed / ".new-1").exists()
        with pytest.raises(ShelfFailed, match="another process is installing"), shelf.at_work():
            pass
    with shelf.at_work():
        pass


def test_a_killed_process_leaves_no_lock(shelf: Shelf) -> None:
    def hold() -> None:
        with shelf.at_work():
            os.kill(os.getpid(), 9)

    process = multiprocessing.get_context("fork").Process(target=hold)
    process.start()
    process.join()
    assert process.exitcode == -9
    with shelf.at_work():
        pass


def test_a_folder_that_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "models").write_text("a file in the way")
    shelf = Shelf(tmp_path / "models", tmp_path)
    with pytest.raises(ShelfFailed, match="cannot be used"):
        shelf.choose("en", ModelChoice("x"))
    with pytest.raises(ShelfFailed, match="cannot be used"), shelf.at_work():
        pass
    assert shelf.standings("en") == ()


def test_the_ears_take_what_was_chosen(tmp_path: Path) -> None:
    shelf = recognizer_choice.shelf(tmp_path)
    standing(shelf.installed / "es-a")
    assert recognizer_choice.model("es", tmp_path) == recognizer_choice.SHIPPED / "es"
    shelf.choose("es", ModelChoice("installed/es-a"))
    assert recognizer_choice.model("es", tmp_path) == shelf.installed / "es-a"
