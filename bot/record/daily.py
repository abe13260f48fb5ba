"""The copy of a day, begun with its first turn by the channel that runs, in a process of its own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from threading import Thread
from typing import Self

from sqlalchemy import select

from bot.record.rotation import Rotation
from bot.settings import Settings
from engine.database import Database
from engine.errors import WorldError
from engine.history.store.tables import turn

Start = Callable[[Rotation, Path], None]


class DailyBackup:
    """To be called after each turn; all calls of a day but the first only look at the date.

    A record that begins today has nothing from before to lose, and is not copied. Where a copy fails, the record goes
    on and ``rowhand doctor`` says how old the newest one is.
    """

    def __init__(
        self, rotation: Rotation, record: Database, today: Callable[[], date], start: Start | None = None
    ) -> None:
        self._rotation, self._record, self._today, self._start = rotation, record, today, start or begin
        self._day: date | None = None

    @classmethod
    def of(cls, settings: Settings, record: Database) -> Self | None:
        """That of the settings; None where no copies are kept."""
        rotation = Rotation.of(settings)
        return cls(rotation, record, lambda: datetime.now(settings.zone).date()) if rotation else None

    def __call__(self) -> None:
        day = self._today()
        if day == self._day:
            return
        self._day, copy = day, self._rotation.copy_of(day)
        try:
            if not copy.exists() and self._had_turns():
                self._start(self._rotation, copy)
        except (OSError, WorldError):
            return

    def _had_turns(self) -> bool:
        """Whether there is any turn but the one that was just kept."""
        with self._record.read() as connection:
            return len(connection.execute(select(turn.c.id).limit(2)).all()) > 1


def begin(rotation: Rotation, copy: Path) -> None:
    """Take the copy in a process that outlives this one, and wait for it aside."""
    arguments = [str(rotation.record.absolute()), str(copy.absolute()), str(rotation.kept)]
    quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    child = subprocess.Popen(
        [sys.executable, "-P", "-m", "bot.record.rotation", *arguments],
        start_new_session=True,
        **quiet,  # type: ignore[call-overload]
    )
    Thread(target=child.wait, daemon=True).start()
