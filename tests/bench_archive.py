"""How long whole records take: ``python -m tests.bench_archive --turns 20000``.

The turns are those of one night of planting, said again under other names: in conversations of a night each.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

from bot.record.daily import DailyBackup
from bot.record.rotation import Rotation
from engine.database import Database, open_database
from engine.history.copies.archive import open_archive
from engine.history.copies.audit import audit
from engine.history.copies.backup import backup
from engine.history.copies.transfer import export_record, import_record
from engine.history.store.journal import Journal, NewTurn, StoredTurn
from engine.messages import Utterance
from tests.helpers.planting import night


def timed(name: str, what: Callable[[], object]) -> None:
    begun = time.perf_counter()
    what()
    print(f"{name:<12} {time.perf_counter() - begun:8.3f} s", flush=True)


def fill(database: Database, turns: int) -> None:
    journal, told = Journal(database), night()
    for number in range(turns):
        talk, one = f"c{number // len(told)}", told[number % len(told)]
        journal.append(NewTurn(talk, one.seq, _again(one, talk), one.reply, one.facts))


def _again(turn: StoredTurn, talk: str) -> Utterance:
    name = f"{talk}:{turn.seq}"
    return Utterance(id=name, conversation=talk, text=turn.heard, language="en", said_at=turn.said_at)


def take(archive: Path, place: Path) -> None:
    with open_archive(archive) as opened:
        opened.verify()
        import_record(opened, open_database(place))


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--turns", type=int, default=2000)
    turns: int = options.parse_args().turns
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        record = open_database(folder / "record.db")
        fill(record, turns)
        timed("export", lambda: export_record(record, folder / "whole.zip"))
        timed("import", lambda: take(folder / "whole.zip", folder / "new.db"))
        timed("check", lambda: audit(record))
        timed("backup", lambda: backup(folder / "record.db", folder / "copy.db"))
        rotation = Rotation(folder / "record.db", folder / "backups", 7)
        timed("first turn", DailyBackup(rotation, record, date.today))
        sizes = [(folder / one).stat().st_size / 1e6 for one in ("record.db", "whole.zip")]
        print(f"record {sizes[0]:.1f} MB, archive {sizes[1]:.1f} MB")
        while not rotation.copies():
            time.sleep(0.1)


if __name__ == "__main__":
    main()
