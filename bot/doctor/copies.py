"""The daily copies of the record: whether there are any, and how old the newest one is."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from bot.doctor.finding import Finding, note, ok
from bot.record.place import file_of
from bot.record.rotation import Rotation
from bot.settings import Settings

OLD = timedelta(days=2)
"""So long without a copy is worth knowing while the record is used (own decision)."""


def examine(settings: Settings, today: date) -> Iterator[Finding]:
    """Nothing is said of a record that is no file, or not there yet."""
    record = file_of(settings.database)
    if record is None or not record.is_file():
        return
    rotation = Rotation.of(settings)
    if rotation is None:
        yield note("copies", "no daily copies of the record are kept", "set ROWHAND_BACKUPS_KEPT to how many you want")
        return
    newest = rotation.newest()
    if newest is None:
        yield note("copies", f"there is no copy in {rotation.folder} yet", "rowhand record backup makes one")
    elif today - newest > OLD:
        why = f"the newest of {len(rotation.copies())} in {rotation.folder} is of {newest.isoformat()}"
        yield note("copies", why, "none is made on days without a turn; else try rowhand record backup")
    else:
        yield ok("copies", f"{len(rotation.copies())} in {rotation.folder}, the newest of {newest.isoformat()}")
