"""The languages as an option of a command."""

from __future__ import annotations

import typer

from engine.data.languages import LANGUAGES

CHOICES = f"[{'|'.join(LANGUAGES)}]"


def tongue(code: str) -> str:
    """The code of a language there is."""
    if code not in LANGUAGES:
        raise typer.BadParameter(f"{code!r} is not one of {', '.join(map(repr, LANGUAGES))}.")
    return code
