"""``rowhand record check``, ``backup``, ``restore``, ``export`` and ``import``.

Whether the record is whole, copies of its file, and the whole record in one file, to be taken into another one.
"""

from __future__ import annotations

from contextlib import closing, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from bot.record.place import DB, file_of, record_there
from bot.settings import Settings, load_settings
from engine.errors import DatabaseError, InputError
from engine.history.copies.audit import Audit


def check(db: DB = None) -> None:
    """Fold every conversation and compare it with the tables beside it; the first difference is named.

    Where there is one, the snapshots go: the facts are folded anew when a conversation is next opened.
    """
    from bot.wiring import open_record
    from engine.history.copies.audit import audit
    from engine.history.store.snapshot import discard

    with closing(open_record(record_there(db))) as record:
        found = audit(record)
        if found.difference:
            with suppress(DatabaseError):
                discard(record)
        _tell(record.place, found)


def backup(
    file: Annotated[
        Path | None, typer.Argument(help="The copy to make; without it, that of today among the daily ones.")
    ] = None,
    db: DB = None,
) -> None:
    """Copy the file of the record, also while a program runs on it, and look the copy through."""
    from bot.record.rotation import Rotation
    from engine.history.copies import backup as copies

    settings = record_there(db)
    record = _file(settings)
    if file is None:
        rotation = Rotation.of(settings)
        if rotation is None:
            raise InputError("no daily copies are kept: name a file for this one, or set ROWHAND_BACKUPS_KEPT")
        file = rotation.copy_of(datetime.now(settings.zone).date())
        _tell(file, rotation.take(file))
    else:
        _tell(file, copies.backup(record, file))


def restore(
    file: Annotated[Path, typer.Argument(help="The copy to put back.")],
    db: DB = None,
) -> None:
    """Put a copy in the place of the record, unless the record holds anything that the copy lacks."""
    from engine.history.copies import backup as copies

    record = _file(load_settings(database=db))
    done = copies.restore(file, record, datetime.now(UTC))
    _tell(record, done.audit)
    if done.aside:
        typer.echo(f"the damaged record lies in {done.aside}")


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


def _file(settings: Settings) -> Path:
    found = file_of(settings.database)
    if found is None:
        raise InputError("only the file of a record is copied: take rowhand record export, or what the server has")
    return found


def _tell(place: object, found: Audit) -> None:
    """What was looked through; DatabaseError with the first difference."""
    if found.difference:
        raise DatabaseError(f"{place} does not agree with itself: {found.difference}")
    typer.echo(
        f"{place}: {found.turns} turns with {found.facts} facts in {found.conversations} conversations, all agree"
    )
