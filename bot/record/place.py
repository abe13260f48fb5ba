"""Which record a command is about."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from bot.settings import Settings, load_settings
from engine.errors import InputError

DB = Annotated[str | None, typer.Option(help="The record: a file, or the address of a database server.")]


def record_there(db: str | None, **given: object) -> Settings:
    """The settings with this record, or with their own; InputError where there is no such file."""
    settings = load_settings(database=db, **given)
    if settings.database != ":memory:" and "://" not in settings.database and not Path(settings.database).exists():
        raise InputError(f"there is no record at {settings.database}")
    return settings
