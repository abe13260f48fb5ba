"""Every way a dialog can be wrong is told at its place, and nothing else is told with it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

from engine.errors import DefinitionError
from tests.helpers.dialogs import edited, source, wrongs

BROKEN: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "broken.yaml").read_text(encoding="utf-8"))
NAMES = ("trial", "later")


def _told(broken: str, *edits: tuple[str, str]) -> tuple[DefinitionError, ...]:
    texts = {f"{name}.yaml": edited(name, *edits) if name == broken else source(name) for name in NAMES}
    try:
        return wrongs(texts)
    except DefinitionError as error:
        return (error,)


def test_the_test_dialogs_are_sound() -> None:
    assert wrongs({f"{name}.yaml": source(name) for name in NAMES}) == ()


@pytest.mark.parametrize("case", BROKEN, ids=[case["title"] for case in BROKEN])
def test_what_is_wrong_is_told_and_nothing_else(case: dict[str, Any]) -> None:
    found = _told(case["file"], *(tuple(edit) for edit in case["edits"]))
    told = [f"{error.file.removesuffix('.yaml')}: {error.place.partition(', ')[2]}: {error.wrong}" for error in found]
    assert told == case["told"]
    assert all(error.mend for error in found)


def test_there_are_many_ways_to_be_wrong() -> None:
    assert len({case["title"] for case in BROKEN}) == len(BROKEN) >= 35


@pytest.mark.parametrize(
    ("edit", "written"),
    [
        (("check: empty}", "check: emtpy}"), "emtpy"),
        (("redo: catches", "redo: catchs"), "catchs"),
        (("{gross: this, tare: container}", "{gross: this, tare: course}"), "tare: course"),
        (('["1 oz", "2 lb"]', '["1 oz", "12 lb"]'), "12 lb"),
        (("into: {value: goal}", "into: {goal: goal}"), "{goal: goal}"),
        (("Done after {run}.", "Done after {run}{"), "Done after {run}{"),
    ],
)
def test_the_line_is_the_one_that_is_wrong(edit: tuple[str, str], written: str) -> None:
    text = edited("trial", edit)
    number = next(at for at, line in enumerate(text.splitlines(), 1) if written in line)
    assert _told("trial", edit)[0].place.startswith(f"line {number}, ")


@pytest.mark.parametrize(
    ("edit", "mend"),
    [
        (("check: empty}", "check: emtpy}"), "did you mean empty?"),
        (("compute: target-catch", "compute: target-cacth"), "did you mean target-catch?"),
        (("{gross: this, tare: container}", "{gross: this, tara: container}"), "add it under with"),
        (("rows: lanes\n", "rows: zzz\n"), "name a slot or something taken"),
    ],
)
def test_the_mend_names_what_was_meant(edit: tuple[str, str], mend: str) -> None:
    assert _told("trial", edit)[0].mend == mend
