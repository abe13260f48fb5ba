"""Archives of a record: taken in, and made by hand."""

from __future__ import annotations

import hashlib
import json
import zipfile
from pathlib import Path

from engine.database import Database
from engine.history.copies.archive import MANIFEST, TRAVELLING, member, open_archive
from engine.history.copies.transfer import import_record
from engine.history.store import tables
from tests.helpers.whole_record import content


def take(place: Path, database: Database) -> None:
    with open_archive(place) as archive:
        archive.verify()
        import_record(archive, database)


def is_empty(database: Database) -> bool:
    found = content(database)
    return {name for name, rows in found.items() if rows} == {tables.version.name}


def remade(place: Path, new: Path, **changed: bytes) -> Path:
    """The archive with other files in it, by table, and a manifest that agrees with them."""
    with zipfile.ZipFile(place) as old, zipfile.ZipFile(new, "w", zipfile.ZIP_DEFLATED) as made:
        manifest = json.loads(old.read(MANIFEST))
        for table in TRAVELLING:
            text = changed.get(table.name, old.read(member(table)))
            told = {"rows": text.count(b"\n"), "bytes": len(text), "sha256": hashlib.sha256(text).hexdigest()}
            manifest["tables"][table.name] = told
            made.writestr(member(table), text)
        made.writestr(MANIFEST, json.dumps(manifest))
    return new
