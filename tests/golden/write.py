"""Writes the golden record of the present fact format, and the golden archive of the present format of archives, where
there is none yet: ``python -m tests.golden.write``.

Done once when a format changes, with the release that changed it; what was written earlier is never written again.
"""

from __future__ import annotations

import json
import shutil
import sys
import tempfile
from pathlib import Path
from zoneinfo import ZoneInfo

from bot.record.ledger import RecordListing
from bot.record.record_part import RecordPart
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.facts import FORMAT
from engine.history.copies.archive import FORMAT as ARCHIVE_FORMAT
from engine.history.copies.transfer import export_record
from engine.messages import Utterance
from tests.golden.night import CONVERSATION, FOLDER, SAID, ZONE, said


def lines(database: Database, what: RecordPart) -> list[str]:
    """What ``rowhand record --json`` prints."""
    return [json.dumps(line, ensure_ascii=False) for line in RecordListing(database, "en", ZoneInfo(ZONE)).lines(what)]


def write(folder: Path) -> None:
    """The night of the present format, played by the present program into a new folder."""
    folder.mkdir(parents=True)
    shutil.copy(SAID, folder / SAID.name)
    database = open_database(str(folder / "record.db"))
    assistant, number = Assistant(database), 0
    for at, texts in said():
        for text in texts:
            number += 1
            heard = Utterance(id=f"golden:{number}", conversation=CONVERSATION, text=text, language="en", said_at=at)
            assistant.hear(heard)
    for what in RecordPart:
        (folder / f"{what}.jsonl").write_text("".join(f"{line}\n" for line in lines(database, what)), encoding="utf-8")
    database.close()


def write_archive(archive: Path, record: Path) -> None:
    """An archive of a golden record, which is not opened where it lies."""
    with tempfile.TemporaryDirectory() as folder:
        database = open_database(shutil.copy(record, folder))
        export_record(database, archive)
        database.close()


def main() -> None:
    place, archive = FOLDER / f"format-{FORMAT}", FOLDER / f"archive-{ARCHIVE_FORMAT}.zip"
    if place.exists() and archive.exists():
        sys.exit(f"{place} and {archive} are there already: they are written once")
    if not place.exists():
        write(place)
    if not archive.exists():
        write_archive(archive, place / "record.db")


if __name__ == "__main__":
    main()
