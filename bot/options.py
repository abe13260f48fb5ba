"""Options that several commands have."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, TypeVar

import typer

from engine.data.languages import LANGUAGES

CHOICES = f"[{'|'.join(LANGUAGES)}]"
Choice = TypeVar("Choice", bound=str)


def tongue(code: str) -> str:
    """The code of a language there is."""
    if code not in LANGUAGES:
        raise typer.BadParameter(f"{code!r} is not one of {', '.join(map(repr, LANGUAGES))}.")
    return code


def one_of(word: str, known: tuple[Choice, ...]) -> Choice:
    """The one of these that a word is."""
    found = next((choice for choice in known if choice == word), None)
    if found is None:
        raise typer.BadParameter(f"{word!r} is none of {', '.join(known)}")
    return found


RecordOption = Annotated[Path | None, typer.Option("--db", help="The record to keep; made where it is missing.")]
BeginOption = Annotated[str | None, typer.Option(parser=tongue, metavar=CHOICES, help="Language to begin with.")]
