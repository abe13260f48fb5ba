"""``rowhand record``: the record in words or as a table, its archive, its copies."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import closing
from typing import Annotated, Any

import typer

from bot.late import late
from bot.record.place import DB, record_there
from bot.record.what import What
from bot.tongue import CHOICES, tongue
from engine.errors import DatabaseError, InputError
from engine.messages import System

CSV = Annotated[bool, typer.Option("--csv", help="As a table: RFC 4180, instants in UTC.")]
JSON = Annotated[bool, typer.Option("--json", help="The lines of the table, one object a line.")]
LANGUAGE = Annotated[str | None, typer.Option(parser=tongue, metavar=CHOICES, help="Language of the words.")]
UNITS = Annotated[System | None, typer.Option(help="Units to show; those of each conversation where none are named.")]
TOLD = {
    What.CALIBRATIONS: "Test runs: what each row caught, and its verdict.",
    What.ROWS: "What each row caught at which setting.",
    What.SHIFTS: "Shifts; also without a word behind rowhand record.",
    What.SCOUTING: "Stretches in doubt, by field.",
    What.RATES: "What was weighed over known areas.",
    What.APPLICATIONS: "What each shift gives of an application record.",
    What.STOCK: "What came in, was loaded and went back of each lot.",
    What.EMERGENCIES: "When whom to call was asked, and in what words.",
}


MORE = {
    "check": "bot.record.copies:check",
    "backup": "bot.record.copies:backup",
    "restore": "bot.record.copies:restore",
    "export": "bot.record.moving:export",
    "import": "bot.record.moving:take",
}


class Commands(late(**MORE)):  # type: ignore[misc]
    """Shifts are shown where nothing is named."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        plain = not args or (args[0].startswith("-") and args[0] != "--help")
        return super().parse_args(ctx, [What.SHIFTS, *args] if plain else args)  # type: ignore[no-any-return]


app = typer.Typer(cls=Commands, help="Show the record in words or as tables, keep copies of it, move it.")


def _showing(what: What) -> Callable[..., None]:
    def show(
        db: DB = None, csv: CSV = False, json: JSON = False, language: LANGUAGE = None, units: UNITS = None
    ) -> None:
        _show(what, db, csv, json, language, units)

    return show


for _what, _help in TOLD.items():
    app.command(_what.value, help=_help)(_showing(_what))


def _show(what: What, db: str | None, csv: bool, as_json: bool, language: str | None, units: System | None) -> None:
    from bot.record.ledger import Ledger
    from bot.wiring import open_record
    from engine.history.export import written

    if csv and as_json:
        raise InputError("--csv and --json exclude each other: choose one")
    settings = record_there(db, language=language)
    with closing(open_record(settings)) as opened:
        ledger = Ledger(opened, settings.language, settings.zone, units, settings.units)
    if csv:
        typer.echo(written(ledger.lines(what)), nl=False)
    elif as_json:
        for line in ledger.lines(what):
            typer.echo(json.dumps(line, ensure_ascii=False))
    else:
        typer.echo("\n".join(ledger.words(what)))
    if ledger.unreadable:
        raise DatabaseError("\n".join(map(str, ledger.unreadable)))
