"""The command line itself: where to begin, its version, and commands that are listed before they are imported."""

from __future__ import annotations

import subprocess
from importlib import import_module
from importlib.metadata import version
from typing import Any

import pytest
import typer
from typer.main import get_group
from typer.testing import CliRunner

from bot.bench.command import BENCHES
from bot.cli import PLACES, CommandPanel, app
from bot.record.command import MORE
from tests.helpers.process import ROOT, python

EVERY = [(name, place.place, place.purpose) for places in (PLACES, BENCHES, MORE) for name, place in places.items()]


def test_the_program_alone_says_where_to_begin() -> None:
    outcome = CliRunner().invoke(app, [])
    assert (outcome.exit_code, outcome.output.splitlines()[0]) == (0, "Begin with: rowhand talk")


def test_its_version_is_that_of_the_package() -> None:
    outcome = CliRunner().invoke(app, ["--version"])
    assert (outcome.exit_code, outcome.output) == (0, f"rowhand {version('rowhand')}\n")


@pytest.mark.parametrize(("name", "place", "purpose"), EVERY)
def test_a_command_is_listed_by_what_it_says_of_itself(name: str, place: str, purpose: str) -> None:
    module, _, attribute = place.partition(":")
    command: Any = getattr(import_module(module), attribute)
    around = typer.Typer()
    if isinstance(command, typer.Typer):
        around.add_typer(command, name=name)
    else:
        around.command(name)(command)
    told = get_group(around).commands[name].help or ""
    assert " ".join(told.split("\n\n")[0].split()) == purpose


def test_commands_are_listed_under_their_headings_in_order() -> None:
    listed = CliRunner().invoke(app, ["--help"]).output
    places = [listed.index(f"─ {panel} ─") for panel in CommandPanel]
    assert places == sorted(places)
    assert "─ Commands ─" not in listed, "every command has a heading"


def test_help_imports_no_command() -> None:
    script = (
        "import sys\nfrom typer.testing import CliRunner\nfrom bot.cli import app\n"
        "assert 'doctor' in CliRunner().invoke(app, ['--help']).output\n"
        "print(sorted({'numpy', 'pint', 'sqlalchemy', 'pydantic', 'scipy', 'bot.calculator.calc'} & {*sys.modules}))"
    )
    found = subprocess.run(python("-c", script), cwd=ROOT, capture_output=True, text=True, check=True)
    assert found.stdout == "[]\n"


def test_talking_loads_no_statistics_and_no_other_language() -> None:
    script = (
        "import sys\nfrom typer.testing import CliRunner\nfrom bot.cli import app\n"
        "from engine.entries.phrases.vocabulary import load_vocabulary\n"
        "CliRunner().invoke(app, ['talk', '--db', ':memory:'], input='set up\\n')\n"
        "print(load_vocabulary.cache_info().currsize, 'scipy.special' in sys.modules)"
    )
    found = subprocess.run(python("-c", script), cwd=ROOT, capture_output=True, text=True, check=True)
    assert found.stdout == "1 False\n"
