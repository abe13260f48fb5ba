"""``rowhand record``: the record in words or as a table, its archive, its copies."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from bot.late import LatePlace, late
from bot.options import CHOICES, tongue
from bot.record.place import DB, record_there
from bot.record.record_part import RecordPart
from engine.errors import DatabaseError, InputError
from engine.messages import System

if TYPE_CHECKING:
    from bot.record.ledger import RecordListing

CSV = Annotated[bool, typer.Option("--csv", help="As a table: RFC 4180, instants in UTC.")]
JSON = Annotated[bool, typer.Option("--json", help="The lines of the table, one object a line.")]
LANGUAGE = Annotated[str | None, typer.Option(parser=tongue, metavar=CHOICES, help="Language of the words.")]
UNITS = Annotated[System | None, typer.Option(help="Units to show; those of each conversation where none are named.")]
PDF = Annotated[Path | None, typer.Option(help="Write them to this file instead, a page each.")]
TOLD = {
    RecordPart.CALIBRATIONS: "Test runs: what each row caught, and its verdict.",
    RecordPart.SHIFTS: "Shifts; also without a word behind rowhand record.",
    RecordPart.SCOUTING: "Stretches in doubt, by field.",
    RecordPart.RATES: "What was weighed over known areas.",
    RecordPart.APPLICATIONS: "Application records, one for each field, product and day.",
    RecordPart.STOCK: "What came in, was loaded and went back of each lot.",
    RecordPart.EMERGENCIES: "When whom to call was asked, and in what words.",
}

MORE = {
    "check": LatePlace(
        "bot.record.copies:check",
        "Fold every conversation and compare it with the tables beside it; the first difference is named.",
    ),
    "backup": LatePlace(
        "bot.record.copies:backup",
        "Copy the file of the record, also while a program runs on it, and look the copy through.",
    ),
    "restore": LatePlace(
        "bot.record.copies:restore",
        "Put a copy in the place of the record, unless the record holds anything that the copy lacks.",
    ),
    "label": LatePlace(
        "bot.record.labels:label", "Keep the photo of a label with its product; nothing is read from it."
    ),
    "labels": LatePlace(
        "bot.record.labels:labels", "The labels that are kept, by product; as files where a folder is named."
    ),
    "export": LatePlace(
        "bot.record.copies:export", "Write the whole record into one archive, also while a program runs on it."
    ),
    "import": LatePlace(
        "bot.record.copies:take",
        "Take an archive into a new or empty record, and compare what is there then with what was written.",
    ),
}


class Commands(late(MORE)):  # type: ignore[misc]
    """Shifts are shown where nothing is named."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        plain = not args or (args[0].startswith("-") and args[0] != "--help")
        return super().parse_args(ctx, [RecordPart.SHIFTS, *args] if plain else args)  # type: ignore[no-any-return]


app = typer.Typer(cls=Commands, help="Show the record in words or as tables, keep copies of it, move it.")


@dataclass(frozen=True)
class Listed:
    """Which record is shown, and how: as a table, one object a line, or in words of a language and its units."""

    db: str | None
    csv: bool
    json: bool
    language: str | None
    units: System | None


def _showing(what: RecordPart) -> Callable[..., None]:
    def show(
        db: DB = None, csv: CSV = False, json: JSON = False, language: LANGUAGE = None, units: UNITS = None
    ) -> None:
        _show(what, Listed(db, csv, json, language, units))

    return show


@app.command(RecordPart.ROWS.value)
def rows(
    db: DB = None,
    csv: CSV = False,
    json: JSON = False,
    language: LANGUAGE = None,
    units: UNITS = None,
    row: Annotated[int | None, typer.Option(help="This row alone, in words or as a picture.")] = None,
    picture: Annotated[Path | None, typer.Option(help="Draw the years into this file, PNG or PDF.")] = None,
) -> None:
    """Rows year by year: what each caught at which setting, its repairs, whether it wears."""
    if sum((csv, json, picture is not None)) > 1:
        raise InputError("--csv, --json and --picture exclude each other: choose one")
    if row is not None and (csv or json):
        raise InputError("--row is told in words or drawn, not as a table")
    _show(RecordPart.ROWS, Listed(db, csv, json, language, units), row=row, picture=picture)


for _what, _help in TOLD.items():
    if _what is not RecordPart.APPLICATIONS:
        app.command(_what.value, help=_help)(_showing(_what))


@app.command(RecordPart.APPLICATIONS.value, help=TOLD[RecordPart.APPLICATIONS])
def applications(
    db: DB = None, csv: CSV = False, json: JSON = False, language: LANGUAGE = None, units: UNITS = None, pdf: PDF = None
) -> None:
    _show(RecordPart.APPLICATIONS, Listed(db, csv, json, language, units), pdf=pdf)


def _show(
    what: RecordPart, listed: Listed, *, row: int | None = None, picture: Path | None = None, pdf: Path | None = None
) -> None:
    from bot.record.ledger import RecordListing
    from bot.wiring import open_record
    from engine.history.export import written

    if listed.csv and listed.json:
        raise InputError("--csv and --json exclude each other: choose one")
    if pdf and (listed.csv or listed.json):
        raise InputError("--pdf goes with neither --csv nor --json: choose one")
    settings = record_there(listed.db, language=listed.language)
    with closing(open_record(settings)) as opened:
        ledger = RecordListing(
            opened, settings.language, settings.zone, listed.units, settings.units, within=settings.record_time
        )
    if pdf:
        typer.echo(_paper(ledger, pdf))
    elif picture is not None:
        _draw(ledger, row, picture)
    elif listed.csv:
        typer.echo(written(ledger.lines(what)), nl=False)
    elif listed.json:
        for line in ledger.lines(what):
            typer.echo(json.dumps(line, ensure_ascii=False))
    else:
        typer.echo("\n".join(ledger.words(what, row)))
    if ledger.unreadable:
        raise DatabaseError("\n".join(map(str, ledger.unreadable)))


def _draw(ledger: RecordListing, row: int | None, file: Path) -> None:
    """Draw the years of rows; InputError where the name of the file says no kind, or nothing is to be drawn."""
    from bot.sheet.pages import pages
    from bot.sheet.picture import picture

    painters = {".png": picture, ".pdf": pages}
    if file.suffix.lower() not in painters:
        raise InputError(f"{file}: name a file that ends in .png or .pdf")
    sheets = ledger.years(row)
    if not sheets:
        raise InputError("no finished test run is in the record yet" + (f" with row {row}" if row else ""))
    names = (
        [file] if len(sheets) == 1 else [file.with_stem(f"{file.stem}-{number + 1}") for number in range(len(sheets))]
    )
    for name, sheet in zip(names, sheets, strict=True):
        name.write_bytes(painters[file.suffix.lower()](sheet))
        typer.echo(str(name))


def _paper(ledger: RecordListing, place: Path) -> str:
    """Write the forms, and say what was written."""
    from bot.sheet.pages import pages

    forms = ledger.forms()
    if forms is None:
        return ledger.words(RecordPart.APPLICATIONS)[0]
    try:
        place.write_bytes(pages(forms))
    except OSError as error:
        raise InputError(f"{place} cannot be written: {error.strerror}") from None
    return ledger.wrote(len(forms.forms), place)
