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
    file = file_of(settings.database)
    if file and not file.exists():
        raise InputError(f"there is no record at {settings.database}")
    return settings


def file_of(database: str) -> Path | None:
    """The file of a record; None where it is in memory or on a server."""
    return None if database == ":memory:" or "://" in database else Path(database).expanduser()
