"""The pages that are made of the program are those that it makes now, and nothing of it is missing in them."""

from __future__ import annotations

import re

import pytest
from typer.main import get_command

from bot import cli
from engine.calculations.catalogue import formulas
from engine.dialog.schema.script import Script
from engine.dialog.schema.slot import Slot
from tests.docs import commands, schema
from tests.docs.commands import command_page
from tests.docs.schema import schema_page, sentences, step_kinds

COMMANDS = commands.PAGE.read_text(encoding="utf-8")
SCHEMA = schema.PAGE.read_text(encoding="utf-8")


def test_the_page_of_commands_is_that_of_the_program() -> None:
    assert command_page() == COMMANDS, "python -m tests.docs.commands writes it"


def test_the_page_of_keys_is_that_of_the_schema() -> None:
    assert schema_page() == SCHEMA, "python -m tests.docs.schema writes it"


def test_every_command_and_option_is_on_the_page() -> None:
    titles = set(re.findall(r"^###? rowhand (.+)$", COMMANDS, re.MULTILINE))
    tops = get_command(cli.app).commands  # type: ignore[attr-defined]
    below = {f"{name} {sub}" for name, one in tops.items() for sub in getattr(one, "commands", {})}
    assert titles == set(tops) | below
    assert {option for option in ("--accepted", "--ring", "--sha256") if f"| `{option} " not in COMMANDS} == set()
    assert {name for name in formulas() if f"| `{name}` |" not in COMMANDS} == set()


def test_every_exit_code_has_its_meaning() -> None:
    promised = (cli.__doc__ or "").partition("Exit codes: ")[2]
    codes = re.findall(r"\b(\d+) [a-z]", promised)
    assert len(codes) > 5
    assert re.findall(r"^\| `(\d+)` \| \w", COMMANDS, re.MULTILINE) == codes


@pytest.mark.parametrize("model", [Script, Slot, *step_kinds().values()])
def test_every_key_says_what_it_is(model: type[Script]) -> None:
    told = sentences(model)
    own = {name for name in model.model_fields if name != "id"}
    assert set(told) == own
    assert {name for name, (_, text) in told.items() if not text.endswith(".")} == set()


def test_every_kind_of_step_has_its_chapter() -> None:
    chapter = SCHEMA.partition("## Steps")[2].partition("\n## ")[0]
    assert re.findall(r"^### (\w+)$", chapter, re.MULTILINE) == list(step_kinds())
