"""Writes the golden record of the present fact format: ``python -m tests.golden.write``.

Done once when the format changes, with the release that changed it; earlier golden records are never written again.
"""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path
from zoneinfo import ZoneInfo

from bot.record.ledger import Ledger
from bot.record.what import What
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.fact_formats import FORMAT
from engine.messages import Utterance
from tests.golden.night import CONVERSATION, FOLDER, SAID, ZONE, said


def lines(database: Database, what: What) -> list[str]:
    """What ``rowhand record --json`` prints."""
    return [json.dumps(line, ensure_ascii=False) for line in Ledger(database, "en", ZoneInfo(ZONE)).lines(what)]


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
    for what in What:
        (folder / f"{what}.jsonl").write_text("".join(f"{line}\n" for line in lines(database, what)), encoding="utf-8")
    database.close()


if __name__ == "__main__":
    place = FOLDER / f"format-{FORMAT}"
    if place.exists():
        sys.exit(f"{place} is there already: a golden record is written once")
    write(place)
