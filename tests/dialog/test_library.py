"""The library: loading a directory, hashes, pinned scripts, and what it says of wrong files."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import engine.library  # noqa: F401  (activities and their formulas)
from engine.data.definitions import parse_definition
from engine.dialog.checks.check import Draft, check
from engine.dialog.schema.script import Script
from engine.dialog.script_library import Library, load_library, parse_script, problems
from engine.errors import DefinitionError

SCRIPTS = Path(__file__).parent / "scripts"
TRIAL = (SCRIPTS / "trial.yaml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library(SCRIPTS)


def test_every_dialog_of_the_directory_is_loaded(library: Library) -> None:
    assert set(library.scripts) == {"trial", "later"}
    assert library.scripts["trial"].slots["weight"].per_row


def test_a_script_is_found_by_the_hash_of_its_text(library: Library) -> None:
    sha256 = hashlib.sha256(TRIAL.encode()).hexdigest()
    assert library.hashes["trial"] == sha256
    assert library.sources[sha256] == TRIAL
    assert library.script(sha256) == library.scripts["trial"]
    assert library.script("0" * 64) is None


def test_an_older_script_is_pinned_beside_the_current_one(library: Library) -> None:
    older = TRIAL.replace("How many lanes?", "Lanes?")
    pinned = library.with_pinned(older)
    sha256 = hashlib.sha256(older.encode()).hexdigest()
    found = pinned.script(sha256)
    assert found is not None and found.slots["lanes"].ask.of("en") == "Lanes?"
    assert pinned.sources[sha256] == older
    assert pinned.hashes["trial"] == library.hashes["trial"] != sha256
    assert library.script(sha256) is None


def test_an_older_script_is_pinned_although_it_breaks_a_rule_of_today(library: Library) -> None:
    older = TRIAL.replace("  - ask: remark\n", "")
    sha256 = hashlib.sha256(older.encode()).hexdigest()
    assert library.with_pinned(older).script(sha256) is not None


def test_a_pinned_source_that_is_no_script_is_refused(library: Library) -> None:
    with pytest.raises(DefinitionError, match=r"dialog: Field required"):
        library.with_pinned("format: '1'\n")


def test_house_texts_and_sources_are_no_dialogs(tmp_path: Path) -> None:
    shutil.copytree(SCRIPTS, tmp_path, dirs_exist_ok=True)
    (tmp_path / "en").mkdir()
    for name in ("sources.yaml", "units.yaml", "en/vocabulary.yaml", "en/forms.yaml"):
        (tmp_path / name).write_text("not: a dialog\n")
    assert set(load_library(tmp_path).scripts) == {"trial", "later"}


def test_a_directory_without_dialogs_is_refused(tmp_path: Path) -> None:
    with pytest.raises(DefinitionError, match="holds no dialogs"):
        load_library(tmp_path)
    assert len(problems(tmp_path)) == 1


def test_all_problems_of_all_files_are_told_and_the_first_is_raised(tmp_path: Path) -> None:
    later = (SCRIPTS / "later.yaml").read_text(encoding="utf-8")
    (tmp_path / "later.yaml").write_text(later.replace("into: {mean: mean}", "into: {average: mean}"), encoding="utf-8")
    (tmp_path / "trial.yaml").write_text(
        TRIAL.replace("{gross: this, tare: container}", "{gross: this, tara: container}").replace(
            "tolerance: t", "x: t"
        ),
        encoding="utf-8",
    )
    found = [str(problem) for problem in problems(tmp_path)]
    assert len(found) >= 5
    assert found[0].startswith("later.yaml: line 30, steps.2.into.average: spread gives no average (")
    assert any("tara" in text and "did you mean tare?" in text for text in found)
    assert [text.split(":")[0] for text in found] == sorted(text.split(":")[0] for text in found)
    with pytest.raises(DefinitionError) as raised:
        load_library(tmp_path)
    assert str(raised.value) == found[0]


def test_a_dialog_after_one_that_cannot_be_read_is_not_blamed(tmp_path: Path) -> None:
    shutil.copy(SCRIPTS / "later.yaml", tmp_path)
    (tmp_path / "trial.yaml").write_text(TRIAL.replace('format: "2"', 'format: "3"'), encoding="utf-8")
    assert [problem.file for problem in problems(tmp_path)] == ["trial.yaml"]


def test_a_file_that_is_no_text_is_a_problem_of_that_file(tmp_path: Path) -> None:
    shutil.copytree(SCRIPTS, tmp_path, dirs_exist_ok=True)
    (tmp_path / "broken.yaml").write_bytes(b"\xff\xfe\x00")
    assert [problem.file for problem in problems(tmp_path)] == ["broken.yaml"]


def test_the_dialogs_that_come_with_the_package_are_sound() -> None:
    assert problems() == ()
    assert len(load_library().scripts) >= 2


def _judge(source: str) -> tuple[DefinitionError, ...]:
    definition = parse_definition(source, "trial.yaml")
    return check([Draft(definition, definition.into(Script))])


def _survives(source: str) -> None:
    """A script is sound, or each problem is told with its place and mend; nothing else is raised."""
    try:
        found = _judge(source)
    except DefinitionError as error:
        found = (error,)
    for error in found:
        assert error.file == "trial.yaml" and error.wrong and error.mend
        assert error.place.startswith(("line ", "whole file"))


LINES = TRIAL.splitlines(keepends=True)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, len(LINES) - 1))
def test_a_line_left_out_never_breaks_the_check(number: int) -> None:
    _survives("".join(LINES[:number] + LINES[number + 1 :]))


@settings(max_examples=20, deadline=None)
@given(st.integers(0, len(LINES) - 1), st.integers(0, len(LINES) - 1))
def test_two_lines_changed_about_never_break_the_check(first: int, second: int) -> None:
    lines = list(LINES)
    lines[first], lines[second] = lines[second], lines[first]
    _survives("".join(lines))


WORDS = sorted({word for word in TRIAL.replace(",", " ").replace("{", " ").replace("}", " ").split() if word.isalpha()})


@settings(max_examples=20, deadline=None)
@given(st.sampled_from(WORDS), st.sampled_from(WORDS))
def test_a_word_in_the_place_of_another_never_breaks_the_check(old: str, new: str) -> None:
    _survives(TRIAL.replace(old, new))


def test_a_script_is_parsed_under_the_name_of_its_file() -> None:
    with pytest.raises(DefinitionError, match=r"^mine\.yaml: line 2, format: "):
        parse_script(TRIAL.replace('format: "2"', 'format: "7"'), "mine.yaml")
