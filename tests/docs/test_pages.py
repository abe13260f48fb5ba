"""What the pages show is what the program does, and what they link to is there."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path

import pytest
import typer
from typer.main import get_command
from typer.testing import CliRunner

from bot import cli
from bot.settings import PREFIX, Settings
from demo.__main__ import demo
from tests.docs.examples import GUIDE, OPERATING, PAGES, README, ROOT, Example, examples, figureless, outputs, stage

LINKING = [*PAGES, *(ROOT / name for name in ("DEVELOPERS.md", "bot/COMMANDS.md", "dialogs/SCHEMA.md"))]
LINKING += [ROOT / "speech" / "training" / "README.md"]
LONGEST_FIRST_PAGE = 250


def text_of(page: Path) -> str:
    return page.read_text(encoding="utf-8")


def name_of(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


def section(page: Path, title: str) -> str:
    found = re.search(rf"^##+ {re.escape(title)}\n(.*?)(?=^##|\Z)", text_of(page), re.MULTILINE | re.DOTALL)
    assert found, title
    return found[1]


def test_the_first_page_is_short_and_leads_on() -> None:
    text = text_of(README)
    assert len(text.splitlines()) <= LONGEST_FIRST_PAGE
    assert {name_of(page) for page in PAGES[1:] if f"]({name_of(page)})" not in text} == set()


def test_safety_comes_before_the_first_dial() -> None:
    titles = re.findall(r"^## (.*)$", text_of(README), re.MULTILINE)
    assert titles.index("Safety and law") < titles.index("A calibration")


def test_there_are_examples_to_run() -> None:
    blocks = {page: examples(text_of(page)) for page in PAGES}
    assert all(any(block.is_run for block in found) for found in blocks.values())
    assert sum(len(block.steps) for found in blocks.values() for block in found if block.is_run) > 25
    assert sum(block.is_conversation for block in blocks[README]) == 1


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


@pytest.mark.parametrize(
    "page",
    [pytest.param(one, marks=[pytest.mark.campaign] if one.name == "LABORATORY.md" else []) for one in PAGES],
    ids=name_of,
)
def test_every_example_prints_what_is_shown(page: Path, tmp_path: Path) -> None:
    stage(tmp_path)
    wrong = []
    for block in examples(text_of(page)):
        if block.is_run:
            try:
                check(block, tmp_path)
            except AssertionError as error:
                wrong.append(str(error))
    again = f"python -m tests.docs.examples {name_of(page)} writes the real output"
    assert not wrong, "\n\n".join([*wrong, again])


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_what_is_not_run_says_why(page: Path) -> None:
    for block in examples(text_of(page)):
        if block.kind == "console" and not block.is_run:
            assert re.fullmatch(r"not run: .{10,}", block.mark)
            assert not any(step.shown for step in block.steps), "output that nothing checks"


def test_the_settings_table_is_the_settings() -> None:
    rows = dict(re.findall(r"^\| `(\w+)` \| (.*?) \|", section(OPERATING, "Settings"), re.MULTILINE))
    assert list(rows) == [f"{PREFIX}{name.upper()}" for name in Settings.model_fields]
    for name, field in Settings.model_fields.items():
        told = rows[f"{PREFIX}{name.upper()}"]
        if field.default_factory is None and field.default is not None:
            shown = f"{field.default:g}" if isinstance(field.default, float) else str(field.default)
            assert told == f"`{shown}`", name


@pytest.mark.parametrize("page", LINKING, ids=name_of)
def test_every_setting_named_is_one(page: Path) -> None:
    settings = {f"{PREFIX}{name.upper()}" for name in Settings.model_fields} | {f"{PREFIX}SETTINGS"}
    for_tests = {f"{PREFIX}{name}" for name in ("KILLS", "EXPLORE", "TEST_DATABASE", "TELEGRAM_API")}
    assert set(re.findall(rf"\b{PREFIX}\w+", text_of(page))) <= settings | for_tests


def test_the_table_of_extras_is_that_of_the_package() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    told = re.findall(r"^\| `(\w+)` \|", section(OPERATING, "Installing"), re.MULTILINE)
    assert sorted(told) == sorted(project["optional-dependencies"])


def test_the_exit_codes_are_those_of_the_program() -> None:
    promised = (cli.__doc__ or "").partition("Exit codes: ")[2]
    codes = re.findall(r"\b(\d+) [a-z]", promised)
    assert re.findall(r"^\| (\d+) \|", section(OPERATING, "Exit codes"), re.MULTILINE) == codes


def test_every_command_is_told_of_on_some_page() -> None:
    told = "".join(text_of(page) for page in PAGES)
    assert {name for name in get_command(cli.app).commands if f"rowhand {name}" not in told} == set()  # type: ignore[attr-defined]


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_every_option_named_is_an_option(page: Path) -> None:
    known = _helped()
    ours = "\n".join(line for line in text_of(page).splitlines() if "python -m" not in line)
    named = set(re.findall(r"(?<![\w-])--[a-z]+", ours))
    assert {option for option in named if option not in known} == set()


@cache
def _helped() -> str:
    """What all commands and the demo tell of themselves."""
    played = typer.Typer()
    played.command()(demo)
    asked = [(cli.app, line) for line in _commands()] + [(played, [])]
    return "".join(CliRunner().invoke(app, [*line, "--help"], env={"COLUMNS": "200"}).output for app, line in asked)


def _commands() -> list[list[str]]:
    tops = get_command(cli.app).commands  # type: ignore[attr-defined]
    return [
        [top, *rest] for top, one in tops.items() for rest in ([[]] + [[sub] for sub in getattr(one, "commands", {})])
    ]


def anchors(page: Path) -> set[str]:
    titles = re.findall(r"^#+ (.*)$", text_of(page), re.MULTILINE)
    return {re.sub(r"[^\w -]", "", title).lower().replace(" ", "-") for title in titles}


@pytest.mark.parametrize("page", LINKING, ids=name_of)
def test_every_link_leads_to_a_file_and_a_title(page: Path) -> None:
    links = [link for link in re.findall(r"\]\(([^)]+)\)", text_of(page)) if "://" not in link]
    assert links
    wrong = []
    for link in links:
        place, _, anchor = link.partition("#")
        target = (page.parent / place).resolve() if place else page
        if not target.is_file() or (anchor and anchor not in anchors(target)):
            wrong.append(link)
    assert wrong == []


def test_what_is_said_about_the_chat_names_no_command_twice() -> None:
    rows = re.findall(r"^\| (`/.*?) \|", section(GUIDE, "What can be asked for"), re.MULTILINE)
    commands = [name for row in rows for name in re.findall(r"`(/\w+)", row)]
    assert len(commands) > 15
    assert sorted(name for name in set(commands) if sum(name in row for row in rows) > 1 and name != "/quiet") == []
