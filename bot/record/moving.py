"""``rowhand record export`` and ``import``: a whole record into one file, and into another record."""

from __future__ import annotations

from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from bot.record.place import DB, record_there
from bot.settings import load_settings


def export(
    file: Annotated[Path, typer.Argument(help="The archive to write, under a new name.")], db: DB = None
) -> None:
    """Write the whole record into one archive, also while a program runs on it."""
    from bot.wiring import open_record
    from engine.history.copies.transfer import export_record

    with closing(open_record(record_there(db))) as record:
        manifest = export_record(record, file)
    turns = sum(one.turns for one in manifest.conversations.values())
    typer.echo(f"{file}: {turns} turns in {len(manifest.conversations)} conversations")


def take(file: Annotated[Path, typer.Argument(help="The archive to take.")], db: DB = None) -> None:
    """Take an archive into a new or empty record, and compare what is there then with what was written."""
    from bot.wiring import open_record
    from engine.history.copies.archive import open_archive
    from engine.history.copies.transfer import import_record

    settings = load_settings(database=db)
    with open_archive(file) as archive:
        archive.verify()
        with closing(open_record(settings)) as record:
            import_record(archive, record)
        turns = sum(one.turns for one in archive.manifest.conversations.values())
    typer.echo(f"{record.place}: {turns} turns in {len(archive.manifest.conversations)} conversations, all as written")
