"""What a dialog knows when it begins: values that earlier dialogs left, and those of its own earlier times."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import TypeVar

from engine.dialog.facts.book import Book, Ended
from engine.dialog.facts.events import Left, Taken
from engine.dialog.schema.script import Ask, Preset, Script
from engine.dialog.schema.slot_roles import Role, name_in, names_in, role_of
from engine.values import Rows, Value

V = TypeVar("V")
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
    count = book.values.get(left_as(script.rows or "", script, book.roles, book.values))
    left = book.left.get(script.dialog)
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
            **_left_under(wanted, script, book.roles, book.values),
            **stood,
            **{name.value: presets[name] for name in script.presets},
            **(left.values if left else {}),
        },
        rows={
            **_left_under(wanted, script, book.roles, book.rows),
            **stood_rows,
            **(left.rows if left else {}),
        },
        runs=_recalled(script, book),
        skipped=tuple(dict.fromkeys((*skipped, *(left.skipped if left else ()), *_unlisted(script, book)))),
        offers=offers(script, book),
    )


def left_as(name: str, script: Script, known: Mapping[Role, str], left: Collection[str]) -> str:
    """Under which name a value was left: its own, or that which a script of another release had for the same role."""
    if name in left:
        return name
    roles = (role for role, held in names_in(script.records).items() if held == name)
    return next((known[role] for role in roles if known.get(role) in left), name)


def _left_under(
    wanted: Collection[str], script: Script, known: Mapping[Role, str], left: Mapping[str, V]
) -> dict[str, V]:
    sources = {name: left_as(name, script, known, left) for name in wanted}
    return {name: left[source] for name, source in sources.items() if source in left}


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
        if ended is None:
            continue
        last = _newest(ended.runs)
        held = left_as(source, script, names_in(ended.records), {*ended.values, *last})
        if held in ended.values:
            values[name] = ended.values[held]
        elif held in last:
            rows[name] = last[held]
    return values, rows


def _newest(runs: Sequence[Mapping[str, Rows]]) -> dict[str, Rows]:
    """Per-row values, of each row the newest: a row that was spared in the last run counts as it was caught before."""
    names = dict.fromkeys(name for run in runs for name in run)
    return {name: {row: value for run in runs for row, value in run.get(name, {}).items()} for name in names}


def _recalled(script: Script, book: Book) -> dict[str, tuple[Rows, ...]]:
    """Per-row values of earlier runs under the same circumstances; nothing where there are none."""
    fitting = [one for one in book.ended if one.dialog == script.dialog and _is_alike(one, script, book)]
    if not fitting:
        return {}
    return {
        name: tuple(
            run.get(left_as(origin, script, names_in(one.records), run), {}) for one in fitting for run in one.runs
        )
        for name, origin in script.recalls.items()
    }


def _is_alike(one: Ended, script: Script, book: Book) -> bool:
    then = _left_under(script.same, script, names_in(one.records), one.values)
    return then == _left_under(script.same, script, book.roles, book.values)


def offers(script: Script, book: Book) -> dict[str, str]:
    """The names given last for slots that offer one; where none was, one that the farm knows of its kind. Who
    locks up is who worked last."""
    asked = [step.ask for step in script.steps if isinstance(step, Ask) and step.offered]
    told = {slot: book.names.get(slot, ()) or _listed(script, book, slot) for slot in asked}
    last = {slot: [*names[-1:], *_worked(script, slot, book)] for slot, names in told.items()}
    return {slot: names[-1] for slot, names in last.items() if names}


def _worked(script: Script, slot: str, book: Book) -> tuple[str, ...]:
    operator = book.watched.operator if book.watched else None
    return (operator,) if operator and name_in(script.records, Role.LOCKED_BY) == slot else ()


def _unlisted(script: Script, book: Book) -> Iterator[str]:
    """The slots that are asked only where something of their kind is known, and nothing is."""
    asked = (step.ask for step in script.steps if isinstance(step, Ask) and step.known)
    return (slot for slot in asked if not _listed(script, book, slot))


def _listed(script: Script, book: Book, slot: str) -> tuple[str, ...]:
    kind = role_of(script.records, slot)
    return book.things.names(kind) if kind is not None else ()
