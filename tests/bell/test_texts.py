"""The definition file of the bell: whole or refused, with its place; and no text that no ring says."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from bot.cli import app
from bot.definition_check import problems
from engine.data.definitions import dialogs_directory
from engine.data.languages import LANGUAGES

LONG = pytest.mark.campaign


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "dialogs"
    shutil.copytree(dialogs_directory(), place)
    return place


@pytest.mark.parametrize(
    ("language", "old", "new", "told", "wrong"),
    [
        ("es", "  look_again:", "  look_agian:", "es/channels/bell.yaml", "look_agian"),
        pytest.param(
            "es",
            "tocaba {dues}{unseen}.",
            "tocaba.",
            "en/channels/bell.yaml",
            "in one language only",
            marks=pytest.mark.campaign,
        ),
        ("en", "{count} calls{unseen}", "{count} calls {acres}{unseen}", "en/channels/bell.yaml", "one language only"),
        ("en", "Sunday]", "Sunday, Someday]", "en/channels/bell.yaml", "seven in each language"),
        pytest.param("es", 'format: "1"', 'format: "2"', "es/channels/bell.yaml", "format", marks=LONG),
        pytest.param("es", "days: [", "days [", "es/channels/bell.yaml", "line", marks=LONG),
    ],
)
def test_a_mistake_is_refused_with_its_place(
    folder: Path, language: str, old: str, new: str, told: str, wrong: str
) -> None:
    place = folder / language / "channels" / "bell.yaml"
    text = place.read_text(encoding="utf-8")
    assert old in text
    place.write_text(text.replace(old, new), encoding="utf-8")
    (problem,) = problems(folder)
    assert problem.file == told and wrong in str(problem)
    outcome = CliRunner().invoke(app, ["dialogs", "check", str(folder)])
    assert outcome.exit_code == 4 and "bell.yaml" in outcome.stderr


def test_a_value_that_a_text_is_not_given_is_refused(folder: Path) -> None:
    for language in LANGUAGES:
        place = folder / language / "channels" / "bell.yaml"
        text = place.read_text(encoding="utf-8")
        assert "look:" in text
        text = text.replace(": due {dues}", ": due {day}").replace("tocaba {dues}{u", "tocaba {day}{u")
        place.write_text(text, encoding="utf-8")
    assert [(one.place, one.wrong) for one in problems(folder)] == [
        ("line 6, texts.look", "{day} is not a value of this text")
    ]


def test_the_files_that_come_along_are_sound() -> None:
    assert list(problems(dialogs_directory())) == []
