"""Dialog files of the tests, whole or with something wrong in them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path

from engine.data.definitions import parse_definition
from engine.dialog.checks.check import Draft, check
from engine.dialog.schema.script import Script
from engine.errors import DefinitionError

SCRIPTS = Path(__file__).parent.parent / "dialog" / "scripts"


@cache
def source(name: str) -> str:
    """The text of one of the test dialogs."""
    return (SCRIPTS / f"{name}.yaml").read_text(encoding="utf-8")


def edited(name: str, *edits: tuple[str, str]) -> str:
    """A test dialog with pieces replaced; each piece must stand there exactly once."""
    text = source(name)
    for old, new in edits:
        assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {name}"
        text = text.replace(old, new)
    return text


def wrongs(texts: Mapping[str, str]) -> tuple[DefinitionError, ...]:
    """All problems of dialogs given as texts by file name; those of the schema are raised."""
    return check([draft(text, file) for file, text in texts.items()])


@cache
def draft(text: str, file: str) -> Draft:
    """A dialog text that fits the schema; DefinitionError where it does not."""
    definition = parse_definition(text, file)
    return Draft(definition, definition.into(Script))
