"""``rowhand record``: the record in words, or as a table for other programs."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

from bot.record.what import What
from bot.settings import load_settings
from bot.tongue import CHOICES, tongue
from engine.errors import DatabaseError, InputError


def record(
    what: Annotated[What, typer.Argument(help="What to show of it.")] = What.SHIFTS,
    *,
    db: Annotated[Path | None, typer.Option(help="The record to read.")] = None,
    csv: Annotated[bool, typer.Option("--csv", help="As a table: RFC 4180, instants in UTC.")] = False,
    json_: Annotated[bool, typer.Option("--json", help="The lines of the table, one object a line.")] = False,
    language: Annotated[str | None, typer.Option(parser=tongue, metavar=CHOICES, help="Language of the words.")] = None,
) -> None:
    """Show test runs, rows, shifts, what to scout, true rates or application records from the record."""
    from bot.record.ledger import Ledger
    from bot.wiring import open_record
    from engine.history.export import written

    if csv and json_:
        raise InputError("--csv and --json exclude each other: choose one")
    settings = load_settings(database=str(db) if db else None, language=language)
    if settings.database != ":memory:" and "://" not in settings.database and not Path(settings.database).exists():
        raise InputError(f"there is no record at {settings.database}")
    ledger = Ledger(open_record(settings), settings.language, settings.zone)
    if csv:
        typer.echo(written(ledger.lines(what)), nl=False)
    elif json_:
        for line in ledger.lines(what):
            typer.echo(json.dumps(line, ensure_ascii=False))
    else:
        typer.echo("\n".join(ledger.words(what)))
    if ledger.unreadable:
        raise DatabaseError("\n".join(map(str, ledger.unreadable)))
