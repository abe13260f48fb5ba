"""What a dialog knows when it begins: values that earlier dialogs left, and those of its own earlier times."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import datetime, timedelta

from engine.dialog.book import Book, Ended
from engine.dialog.events import Left, Taken
from engine.dialog.script import Preset, Script
from engine.values import Rows, Value

SOON = timedelta(hours=12)
"""A dialog that was left for another one goes on with what it had for so long (own decision): a night's shift."""


def remembered(script: Script, values: Mapping[str, Value]) -> dict[str, Value]:
    """Answers that are asked once, whatever becomes of the dialog."""
    return {name: values[name] for name in script.remembers if name in values}


def skipped_for_good(script: Script, skipped: Collection[str]) -> tuple[str, ...]:
    """Questions that are asked once and were skipped."""
    return tuple(name for name in script.remembers if name in skipped)


def left_before(script: Script, book: Book, now: datetime) -> Left | None:
    """What a dialog goes on with; None where it was not left for another one, long ago, or on another planter."""
    left, count = book.left.get(script.dialog), book.values.get(script.rows or "")
    if left is None or now - left.at > SOON or not isinstance(count, int):
        return None
    every = [*range(1, count + 1)]
    return left if all(sorted(rows) == every for rows in left.rows.values()) else None


def taken(script: Script, book: Book, presets: Mapping[Preset, Value], left: Left | None = None) -> Taken:
    """All that a dialog begins with, as one fact."""
    wanted = (*script.takes, *script.may_take, *script.remembers)
    stood, stood_rows = _stood(script, book)
    skipped = tuple(name for name in book.skipped.get(script.dialog, ()) if name not in book.values)
    return Taken(
        values={
            **{name: book.values[name] for name in wanted if name in book.values},
            **stood,
            **{name.value: presets[name] for name in script.presets},
            **(left.values if left else {}),
        },
        rows={
            **{name: book.rows[name] for name in wanted if name in book.rows},
            **stood_rows,
            **(left.rows if left else {}),
        },
        runs=_recalled(script, book),
        skipped=(*skipped, *(left.skipped if left else ())),
    )


def _stood(script: Script, book: Book) -> tuple[dict[str, Value], dict[str, Rows]]:
    """Values as the dialog before left them; of this dialog's own slots as it first ended since then."""
    before = next(
        (place for place in reversed(range(len(book.ended))) if book.ended[place].dialog == script.after), None
    )
    if before is None:
        return {}, {}
    since = next((one for one in book.ended[before:] if one.dialog == script.dialog), None)
    values: dict[str, Value] = {}
    rows: dict[str, Rows] = {}
    for name, source in script.stood.items():
        ended = since if source in script.slots else book.ended[before]
        if ended is not None and source in ended.values:
            values[name] = ended.values[source]
        elif ended is not None and ended.runs and source in ended.runs[-1]:
            rows[name] = ended.runs[-1][source]
    return values, rows


def _recalled(script: Script, book: Book) -> dict[str, tuple[Rows, ...]]:
    """Per-row values of earlier runs under the same circumstances; nothing where there are none."""
    fitting = [one for one in book.ended if one.dialog == script.dialog and _is_alike(one, script, book)]
    if not fitting:
        return {}
    return {
        name: tuple(run.get(origin, {}) for one in fitting for run in one.runs)
        for name, origin in script.recalls.items()
    }


def _is_alike(one: Ended, script: Script, book: Book) -> bool:
    return all(one.values.get(name) == book.values.get(name) for name in script.same)
