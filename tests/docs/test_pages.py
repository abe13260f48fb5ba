"""What README.md shows is what the program does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer
from typer.main import get_command
from typer.testing import CliRunner

from bot import cli
from bot.settings import PREFIX, Settings
from demo.__main__ import demo
from tests.docs.examples import README, ROOT, Example, examples, figureless, outputs, stage

TEXT = README.read_text(encoding="utf-8")
BLOCKS = examples(TEXT)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("reader")
    stage(place)
    return place


def section(title: str) -> str:
    found = re.search(rf"^##+ {re.escape(title)}\n(.*?)(?=^##|\Z)", TEXT, re.MULTILINE | re.DOTALL)
    assert found, title
    return found[1]


def test_there_are_examples_to_run() -> None:
    assert sum(len(block.steps) for block in BLOCKS if block.is_run) > 12
    assert sum(block.is_conversation for block in BLOCKS) == 1


def check(block: Example, folder: Path) -> None:
    code = None
    for step, (printed, found) in zip(block.steps, outputs(block, folder), strict=True):
        assert code in (None, 0), "only the last command of a block may fail"
        code = found
        if block.varies:
            assert figureless(printed) == figureless(step.shown), step.command
        else:
            assert printed == step.shown, step.command
    assert code == block.code


@pytest.mark.xdist_group("readme")
def test_every_example_prints_what_is_shown(folder: Path) -> None:
    wrong = []
    for block in BLOCKS:
        if block.is_run:
            try:
                check(block, folder)
            except AssertionError as error:
                wrong.append(str(error))
    assert not wrong, "\n\n".join(wrong) + "\n\npython -m tests.docs.examples writes the real output into README.md"


def test_what_is_not_run_says_why() -> None:
    for block in BLOCKS:
        if block.kind == "console" and not block.is_run:
            assert re.fullmatch(r"not run: .{10,}", block.mark)
            assert not any(step.shown for step in block.steps), "output that nothing checks"


def test_the_settings_table_is_the_settings() -> None:
    rows = dict(re.findall(r"^\| `(\w+)` \| (.*?) \|", section("Settings"), re.MULTILINE))
    assert list(rows) == [f"{PREFIX}{name.upper()}" for name in Settings.model_fields]
    for name, field in Settings.model_fields.items():
        told = rows[f"{PREFIX}{name.upper()}"]
        if field.default_factory is None and field.default is not None:
            shown = f"{field.default:g}" if isinstance(field.default, float) else str(field.default)
            assert told == f"`{shown}`", name


def test_the_exit_codes_are_those_of_the_program() -> None:
    promised = re.search(r"Exit codes: (.*?)\n\n|Exit codes: (.*)", cli.__doc__ or "", re.DOTALL)
    assert promised
    codes = re.findall(r"\b(\d+) [a-z]", promised[0])
    assert re.findall(r"^\| (\d+) \|", section("Exit codes"), re.MULTILINE) == codes


def test_every_command_has_its_place() -> None:
    names = get_command(cli.app).commands  # type: ignore[attr-defined]
    titles = re.findall(r"^### rowhand (\S+)", TEXT, re.MULTILINE)
    assert set(titles) == set(names)


def test_every_option_named_is_an_option() -> None:
    played = typer.Typer()
    played.command()(demo)
    asked = [(cli.app, line) for line in _commands()] + [(played, [])]
    known = "".join(CliRunner().invoke(app, [*line, "--help"], env={"COLUMNS": "200"}).output for app, line in asked)
    named = set(re.findall(r"(?<![\w-])--[a-z]+", TEXT))
    assert {option for option in named if option not in known} == set()


def _commands() -> list[list[str]]:
    tops = get_command(cli.app).commands  # type: ignore[attr-defined]
    return [
        [top, *rest] for top, one in tops.items() for rest in ([[]] + [[sub] for sub in getattr(one, "commands", {})])
    ]


def test_every_file_it_links_to_is_there() -> None:
    linked = [place for place in re.findall(r"\]\(([^)#]+)\)", TEXT) if "://" not in place]
    assert len(linked) >= 4
    assert [place for place in linked if not (ROOT / place).is_file()] == []


def test_every_anchor_is_a_title() -> None:
    titles = {
        re.sub(r"[^\w -]", "", title).lower().replace(" ", "-")
        for title in re.findall(r"^#+ (.*)$", TEXT, re.MULTILINE)
    }
    assert set(re.findall(r"\]\(#([^)]+)\)", TEXT)) <= titles
