"""Every text is said somewhere, everywhere with the values that its key declares; a file that differs is refused."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from bot.cli import app
from bot.definition_check import CATALOGUES, problems, text_problems
from bot.page.texts import PageKey
from bot.settings import load_settings
from bot.wiring import rules
from engine.data.definitions import dialogs_directory
from engine.data.languages import LANGUAGES
from engine.data.texts import TextKey, Texts
from engine.dialog.reply.system_texts import SystemKey, SystemTexts
from engine.errors import DefinitionError
from tests.helpers.page_sayings import said_on_phones
from tests.helpers.sayings import Program, Saying

ROOT = Path(__file__).parents[1]
ASKED = "asked.figures"
"""A question holds its text and figures until it is asked: both are proved where it is put."""


@cache
def found() -> tuple[Saying, ...]:
    """Every place in the program that says a text; reading all of it takes seconds."""
    return tuple(Program(ROOT, "engine", "bot").sayings())


def keys_of(catalogue: type[Texts[Any]]) -> list[TextKey]:
    return [*catalogue.load().texts]


# ---------------------------------------------------------------- what the program says


def test_the_sayings_were_found() -> None:
    assert len(found()) > 350
    assert len({one.place.partition(":")[0] for one in found()}) > 40


def test_every_text_is_said_with_exactly_its_values() -> None:
    assert {one.place: wrong for one in found() if (wrong := wrong_with(one))} == {}


def wrong_with(saying: Saying) -> str | list[TextKey]:
    """What is wrong at a place that says a text: a sentence, or the keys whose values it does not pass."""
    if saying.unknown == ASKED:
        return ""
    more = frozenset(rules(load_settings()).numbers if saying.keys == {SystemKey.EMERGENCY} else ())
    if bool(saying.unknown) != bool(more):
        return "write the values out, or a mapping with its names in sight"
    if not saying.keys:
        return "it cannot be told which texts are said here"
    return [key for key in saying.keys if not saying.fits(key, more)]


@pytest.mark.parametrize("catalogue", CATALOGUES, ids=lambda one: one.__name__)
def test_no_text_is_never_said(catalogue: type[Texts[Any]]) -> None:
    said = {(type(key), key) for one in found() for key in one.keys} | {(PageKey, key) for key in said_on_phones()}
    assert [key for key in keys_of(catalogue) if (type(key), key) not in said] == []


WRONG = {
    "walk.say(SystemKey.KEPT, name=n)": False,
    "walk.say(SystemKey.KEPT, name=n, value=v)": True,
    "walk.say(SystemKey.KEPT, name=n, valeu=v)": False,
    "walk.say(SystemKey.KEPT, name=n, value=v, more=m)": False,
    "walk.say(SystemKey.KEPT if one else SystemKey.KEPT_ROW, name=n, value=v)": False,
    "walk.say(TABLE[n], value=v)": False,
    "walk.say(TABLE[n], **TABLE[n].only(value=v, old=o, place=p))": True,
    "walk.say(SystemKey.KEPT, **{'name': n, 'value': v})": True,
    "walk.say(SystemKey.KEPT, **{'name': n})": False,
    "later(walk, SystemKey.GOES_ON)": True,
    "later(walk, SystemKey.KEPT)": False,
}


@pytest.mark.parametrize(("call", "right"), WRONG.items())
def test_a_call_that_passes_something_else_is_found(tmp_path: Path, call: str, right: bool) -> None:
    (tmp_path / "program").mkdir()
    (tmp_path / "program" / "one.py").write_text(
        "from engine.dialog.reply.system_texts import SystemKey\n"
        "TABLE = {1: SystemKey.UNCHANGED, 2: SystemKey.REPLACE}\n"
        "class Walk:\n    def say(self, key: SystemKey, **values: str) -> None:\n        self.lines.append(key)\n"
        "def later(walk: Walk, key: SystemKey) -> None:\n    walk.say(key)\n"
        f"def said(walk: Walk) -> None:\n    {call}\n",
        encoding="utf-8",
    )
    found = [one for one in Program(tmp_path, "program").sayings() if one.keys]
    assert found
    assert all(one.fits(key) for one in found for key in one.keys) is right


# ---------------------------------------------------------------- what stands in the files


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "dialogs"
    shutil.copytree(dialogs_directory(), place)
    return place


@pytest.fixture
def catalogues(tmp_path: Path) -> Path:
    """The files of the catalogues alone."""
    place = tmp_path / "catalogues"
    for file in {f"{language}/{one.file}" for one in CATALOGUES for language in LANGUAGES}:
        (place / file).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(dialogs_directory() / file, place / file)
    return place


def with_value(catalogue: type[Texts[Any]]) -> TextKey:
    return next(key for key in keys_of(catalogue) if key.given)


EXPECTED = {
    "lost": "stands in one language only",
    "spare": "{spare} stands in one language only",
    "misspelt": "stands in one language only",
    "empty": "at least 1 character",
    "key lost": "is missing",
    "key spare": "nowhere_said is not a text that is said anywhere",
    "key misspelt": "is not a text that is said anywhere",
    "spelt alike in each": "is not a value of this text",
    "lost in each": "is missing",
    "key lost in each": "is missing",
}


def breakages() -> Iterator[Any]:
    """Each catalogue in each way; the campaigns try each way in each language."""
    for catalogue, way in product(CATALOGUES, EXPECTED):
        if way.endswith("in each"):
            yield pytest.param(catalogue, "", way)
            continue
        for language in LANGUAGES:
            often = len(catalogue.__name__ + way) % len(LANGUAGES) != LANGUAGES.index(language)
            yield pytest.param(catalogue, language, way, marks=[pytest.mark.campaign] if often else [])


def broken(text: str, key: TextKey, way: str) -> str:
    """The source of a catalogue in one language in which one text is wrong."""
    name = key.given[0]
    found = re.search(rf'^  {key}: "([^"]*)"\n', text, re.MULTILINE)
    assert found is not None
    entry, said = found.group(), found[1]
    new = {
        "lost": entry.replace(f"{{{name}}}", "something"),
        "spare": entry.replace(said, f"{said} {{spare}}"),
        "misspelt": entry.replace(f"{{{name}}}", f"{{{name}s}}"),
        "empty": f"  {key}: ''\n",
        "key lost": "",
        "key spare": f'{entry}  nowhere_said: "Here."\n',
        "key misspelt": entry.replace(f"  {key}:", f"  {key}x:", 1),
        "spelt alike in each": entry.replace(f"{{{name}}}", f"{{{name}s}}"),
        "lost in each": entry.replace(f"{{{name}}}", "something"),
        "key lost in each": "",
    }[way]
    assert new != entry
    return text.replace(entry, new, 1)


@pytest.mark.parametrize(
    ("catalogue", "language", "way"), [*breakages()], ids=lambda one: getattr(one, "__name__", one)
)
def test_a_text_that_differs_is_refused_with_file_place_and_mend(
    catalogues: Path, catalogue: type[Texts[Any]], language: str, way: str
) -> None:
    key = with_value(catalogue)
    for one in [language] if language else LANGUAGES:
        path = catalogues / one / catalogue.file
        path.write_text(broken(path.read_text(encoding="utf-8"), key, way), encoding="utf-8")
    (found,) = text_problems(catalogues)
    others = [one for one in LANGUAGES if one != language]
    told = others if way == "lost" else LANGUAGES if way == "misspelt" else [language or LANGUAGES[0]]
    assert found.file in [f"{one}/{catalogue.file}" for one in told] and EXPECTED[way] in found.wrong and found.mend
    line, _, place = found.place.partition(", ")
    assert re.fullmatch(r"line \d+", line)
    wanted = {"key lost in each": "texts", "key spare": "texts.nowhere_said", "key misspelt": f"texts.{key}x"}
    assert place == wanted.get(way, f"texts.{key}")
    if way in ("key misspelt", "spelt alike in each"):
        assert found.mend.startswith(f"write {key}" if way == "key misspelt" else f"write {{{key.given[0]}}}")
    with pytest.raises(DefinitionError):
        catalogue.load(catalogues)


def test_the_command_names_every_text_that_differs(folder: Path) -> None:
    for catalogue in CATALOGUES:
        path = folder / "es" / catalogue.file
        path.write_text(broken(path.read_text(encoding="utf-8"), with_value(catalogue), "lost"), encoding="utf-8")
    found = [*problems(folder)]
    assert {one.file for one in found} == {f"en/{catalogue.file}" for catalogue in CATALOGUES}
    outcome = CliRunner().invoke(app, ["dialogs", "check", str(folder)])
    assert outcome.exit_code == 4 and outcome.stderr == "".join(f"{one}\n" for one in found)


def test_a_text_takes_no_expression(folder: Path) -> None:
    path = folder / "en" / SystemTexts.file
    path.write_text(path.read_text(encoding="utf-8").replace("Row {row}, {value}.", "Row {row}, {value!r}."), "utf-8")
    (found,) = problems(folder)
    assert (
        found.file == "en/house.yaml"
        and found.place.endswith("texts.kept_row")
        and "is not a plain name in braces" in found.wrong
    )


def test_a_catalogue_whose_file_is_gone_is_refused(folder: Path) -> None:
    (folder / "es" / "channels" / "record.yaml").unlink()
    assert [(one.file, one.place) for one in problems(folder)] == [("es/channels/record.yaml", "whole file")]


def test_only_the_values_that_a_key_declares_are_passed_on() -> None:
    assert SystemKey.KEPT.given == ("name", "value") and SystemKey.GOES_ON.given == ()
    assert SystemKey.KEPT.only(value="a", other="b") == {"value": "a"}
    assert SystemKey("kept") is SystemKey.KEPT and f"{SystemKey.KEPT}" == "kept"


def test_the_files_that_come_along_are_sound() -> None:
    assert problems(dialogs_directory()) == ()
