"""The daily copies of a record: one a day in a folder, the oldest go.

``python -m bot.record.rotation RECORD COPY KEPT`` takes one in a process of its own, so that nobody waits for it.
"""

from __future__ import annotations

import os
import re
import sys
import time
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Self

from bot.record.place import file_of
from bot.settings import Settings
from engine.errors import RowhandError
from engine.history.copies.audit import Audit
from engine.history.copies.backup import backup
from engine.new_file import PART

FOLDER = "backups"
NICENESS = 10
STALE_SECONDS = 3600
"""After so long a part of a copy belongs to nobody any more (own decision)."""


@dataclass(frozen=True)
class Rotation:
    """The copies of one record in one folder, of which the newest ``kept`` stay."""

    record: Path
    folder: Path
    kept: int

    @classmethod
    def of(cls, settings: Settings) -> Self | None:
        """Those of the settings; None for a record that is no file, and where none are wanted."""
        record = file_of(settings.database)
        if record is None or not settings.backups_kept:
            return None
        return cls(record, settings.backups or record.absolute().parent / FOLDER, settings.backups_kept)

    def copy_of(self, day: date) -> Path:
        """Where the copy of a day lies."""
        return self.folder / f"{self.record.stem}-{day.isoformat()}{self.record.suffix}"

    def copies(self) -> list[Path]:
        """Those that are there, the newest first."""
        stem, suffix = re.escape(self.record.stem), re.escape(self.record.suffix)
        ours = re.compile(rf"{stem}-\d{{4}}-\d\d-\d\d{suffix}")
        there = self.folder.iterdir() if self.folder.is_dir() else ()
        return sorted((path for path in there if ours.fullmatch(path.name)), reverse=True)

    def newest(self) -> date | None:
        """The day of the newest copy."""
        found = self.copies()
        return date.fromisoformat(found[0].stem[-len("2026-04-21") :]) if found else None

    def take(self, copy: Path) -> Audit:
        """Make a copy, and let the oldest go, unless the new one does not agree with itself. Raises as ``backup``."""
        self._sweep()
        found = backup(self.record, copy)
        for old in self.copies()[self.kept :] if not found.difference else ():
            old.unlink(missing_ok=True)
        return found

    def _sweep(self) -> None:
        """Remove parts of copies that were killed."""
        for part in self.folder.glob(f".{self.record.stem}-*{PART}*"):
            if time.time() - part.stat().st_mtime > STALE_SECONDS:
                part.unlink(missing_ok=True)


def main() -> int:
    record, copy, kept = sys.argv[1:]
    os.nice(NICENESS)
    try:
        Rotation(Path(record), Path(copy).parent, int(kept)).take(Path(copy))
    except RowhandError as error:
        print(error, file=sys.stderr)  # noqa: T201
        return 5
    return 0


if __name__ == "__main__":
    sys.exit(main())
