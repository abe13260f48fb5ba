"""The texts of a dialog stand in the folder of each language: all of them, at places that the dialog has."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from engine.data.definitions import dialogs_directory
from engine.data.languages import LANGUAGES
from engine.dialog.script_library import parse_script, whole
from engine.errors import DefinitionError
from engine.library import load_library, problems


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "dialogs"
    shutil.copytree(dialogs_directory(), place)
    return place


def edited(path: Path, old: str, new: str) -> int:
    """Replace a piece of a file; the number of its line."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return text[: text.index(old)].count("\n") + 1


@pytest.mark.parametrize(
    ("old", "new", "place", "wrong", "mend"),
    [
        ("    ask: ", "    aks: ", "slots.rows.aks", "nothing is said at aks", "did you mean ask?"),
        ("  left:\n", "  lefft:\n", "steps.lefft", "nothing is said at lefft", "did you mean left?"),
        ("about: ", "phase: check\nabout: ", "phase", "nothing is said at phase", "write ~ there"),
        ("about: ", "steps: done\nabouts: ", "whole file", "this key stands twice", "keep one"),
        ("    name: Rows\n", "    name:\n      long: Rows\n", "slots.rows.name", "name has no parts", "one text"),
        ("about: ", "abuot: ", "abuot", "nothing is said at abuot", "did you mean about?"),
        ("    name: Rows\n", "", "slots.rows.name", "name is missing", "add it"),
        ("    name: Rows\n", '    name: ""\n', "slots.rows.name", "at least 1 character", ""),
        ("    name: Rows\n", "    name: '{rows}'\n", "slots.rows.name", "{rows} stands in one language only", "same"),
        ("[hose, ", "[hose, okay, ", "slots.condition.options.hose.words.1", "already means fit", "other words"),
    ],
)
def test_a_text_that_does_not_fit_is_refused_at_its_own_line(
    folder: Path, old: str, new: str, place: str, wrong: str, mend: str
) -> None:
    line = edited(folder / "en" / "ready-check.yaml", old, new)
    found = problems(folder)[0]
    assert found.file == "en/ready-check.yaml" and wrong in found.wrong and mend in found.mend
    if place != "whole file" and new:
        assert found.place.startswith((f"line {line}, {place}", f"line {line + 1}, {place}"))
    with pytest.raises(DefinitionError, match="en/ready-check"):
        load_library(folder)


def test_a_text_that_a_dialog_does_not_say_any_more_is_refused(folder: Path) -> None:
    edited(folder / "ready-check.yaml", "    hint: ~\n", "")
    assert [one.file for one in problems(folder)] == ["en/ready-check.yaml"]


def test_a_text_that_a_dialog_says_from_now_on_is_asked_for(folder: Path) -> None:
    edited(folder / "ready-check.yaml", "rows: rows\n\n", "rows: rows\notherwise: ~\n\n")
    (found,) = problems(folder)
    assert (found.file, found.wrong) == ("en/ready-check.yaml", "otherwise is missing")


def test_a_value_that_a_text_shows_and_nobody_knows_is_told_where_the_text_stands(folder: Path) -> None:
    for language in LANGUAGES:
        path = folder / language / "ready-check.yaml"
        path.write_text(path.read_text(encoding="utf-8").replace('hose: "{rows}', 'hose: "{rowz}'), encoding="utf-8")
    found = problems(folder)[0]
    assert found.file == "en/ready-check.yaml" and ", steps.told.each.hose" in found.place


def test_texts_of_no_dialog_are_refused(folder: Path) -> None:
    (folder / "es" / "ready-check.yaml").rename(folder / "es" / "raedy-check.yaml")
    found = {one.file: one for one in problems(folder)}
    assert "cannot be read" in found["es/ready-check.yaml"].wrong
    assert found["es/raedy-check.yaml"].mend == "call it ready-check.yaml"


def test_a_dialog_in_one_piece_needs_every_language(folder: Path) -> None:
    """As a conversation stores it: with all its texts in it."""
    path = folder / "ready-check.yaml"
    source = whole(path).source
    for language in LANGUAGES:
        (folder / language / "ready-check.yaml").unlink()
    path.write_text(source, encoding="utf-8")
    assert problems(folder) == ()
    path.write_text(source.replace('"es": "Surcos"', '"fr": "Rangs"'), encoding="utf-8")
    (found,) = problems(folder)
    assert found.wrong == "es is missing" and "slots.rows.name" in found.place


@pytest.mark.parametrize("name", sorted(load_library().scripts))
def test_what_a_conversation_stores_is_the_whole_dialog(name: str) -> None:
    library = load_library()
    source = library.sources[library.hashes[name]]
    assert parse_script(source, f"{name}.yaml") == library.scripts[name]


@pytest.mark.parametrize("language", LANGUAGES)
def test_another_text_in_any_language_is_another_script(folder: Path, language: str) -> None:
    before = load_library(folder)
    edited(folder / language / "ready-check.yaml", "    name: ", "    name: X")
    after = load_library(folder)
    changed = {name for name in before.hashes if before.hashes[name] != after.hashes[name]}
    assert changed == {"ready-check"}
    again = after.with_pinned(before.sources[before.hashes["ready-check"]])
    assert again.script(before.hashes["ready-check"]) == before.scripts["ready-check"]


def test_a_remark_in_a_file_is_no_other_script(folder: Path) -> None:
    before = load_library(folder).hashes
    edited(folder / "ready-check.yaml", "slots:\n", "# What is asked.\nslots:\n")
    edited(folder / "es" / "ready-check.yaml", "slots:\n", "# Lo que se pregunta.\nslots:\n")
    assert load_library(folder).hashes == before
