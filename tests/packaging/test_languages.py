"""A language is a folder: no module asks for one by its name."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from engine.data.definitions import dialogs_directory
from engine.data.forms import load_forms
from engine.data.languages import DEFAULT, LANGUAGES, languages_of, listed

ROOT = Path(__file__).parents[2]
MAY = ("bot/bench/", "speech/training/")
"""What may look at a language by its name: benchmarks and training, whose recordings and voices are of one."""


def asked(tree: ast.AST) -> Iterator[int]:
    """The lines where something is compared with a language, matched against one, or kept under the name of one."""
    for node in ast.walk(tree):
        match node:
            case ast.Compare(left=left, comparators=others):
                found = [left, *others, *(one for part in others for one in getattr(part, "elts", ()))]
            case ast.MatchValue(value=value):
                found = [value]
            case ast.Dict(keys=keys):
                found = [key for key in keys if key is not None]
            case ast.Subscript(slice=key):
                found = [key]
            case _:
                continue
        yield from (one.lineno for one in found if isinstance(one, ast.Constant) and one.value in LANGUAGES)


def test_no_module_asks_for_a_language_by_its_name() -> None:
    found = {}
    for path in (path for room in ("engine", "bot", "speech") for path in sorted((ROOT / room).rglob("*.py"))):
        place = path.relative_to(ROOT).as_posix()
        lines = [*asked(ast.parse(path.read_text(encoding="utf-8")))]
        if lines and not place.startswith(MAY):
            found[place] = lines
    assert found == {}


@pytest.mark.parametrize(
    ("code", "is_asked"),
    [
        ('if language == "es": pass', True),
        ('if "en" != language: pass', True),
        ('if language in ("en", "fr"): pass', True),
        ('said = {"en": "yes", **more}', True),
        ('said = table["es"]', True),
        ('match language:\n    case "es": pass', True),
        ('language: str = "en"', False),
        ('speak(language="en")', False),
        ('if word == "yes": pass', False),
    ],
)
def test_what_asks_for_a_language_is_found(code: str, is_asked: bool) -> None:
    assert bool([*asked(ast.parse(code))]) is is_asked


def test_the_languages_are_the_folders() -> None:
    folders = {place.parent.name for place in dialogs_directory().glob("*/forms.yaml")}
    assert set(LANGUAGES) == folders
    assert LANGUAGES[0] == DEFAULT
    assert listed(("en",)) == "en" and listed(("en", "es", "pt")) == "en, es or pt"


def test_a_folder_that_is_no_language_is_none(tmp_path: Path) -> None:
    for name in ("pt", "channels", "de", "en", "x1"):
        (tmp_path / name).mkdir()
    assert languages_of(tmp_path) == ("en", "de", "pt")


def test_no_two_languages_are_called_the_same() -> None:
    called = [name for language in LANGUAGES for name in load_forms(language).called]
    assert len(called) == len(set(called))
