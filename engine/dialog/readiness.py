"""What a check before work found and is still so: told where work begins, and what becomes of it in other dialogs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from engine.calculations.fitness import Condition
from engine.dialog.events import LeftOut, TakenIn
from engine.dialog.house import Key
from engine.dialog.roles import Phase, Role, holds, name_in
from engine.dialog.script import Script
from engine.dialog.slot import Choice
from engine.dialog.walk import Walk
from engine.languages import LANGUAGES
from engine.messages import Language
from engine.values import Rows


def note_found(walk: Walk, found: Rows) -> None:
    """Do without the rows that were found unfit, under the word for it, and take those in again that are fit."""
    fit = tuple(row for row, one in found.items() if one == Condition.FIT and row in walk.state.book.left_out)
    if fit:
        walk.add(TakenIn(rows=fit))
    for word in dict.fromkeys(str(one) for one in found.values() if one != Condition.FIT):
        rows = tuple(sorted(row for row, one in found.items() if one == word))
        note_out(walk, rows, _label(walk, word, walk.state.language))


def note_out(walk: Walk, rows: tuple[int, ...], said: str) -> None:
    """Do without rows from now on; ``said`` is why."""
    known = walk.state.book.left_out
    walk.add(LeftOut(rows=rows, said=said, before={row: known[row] for row in rows if row in known}))


def found_unfit(walk: Walk) -> dict[str, list[int]]:
    """Rows that are done without because of what a check found at them, by the word for it in today's language."""
    known, out = walk.state.book.of(Role.CONDITION), walk.state.book.left_out
    conditions = known if isinstance(known, dict) else {}
    found: dict[str, list[int]] = {}
    for row in sorted(out):
        word = str(conditions.get(row, Condition.FIT))
        if word != Condition.FIT and out[row] in {_label(walk, word, one) for one in LANGUAGES}:
            found.setdefault(_label(walk, word, walk.state.language), []).append(row)
    return found


def told_at_start(walk: Walk, script: Script) -> Iterator[str]:
    """What is said of rows left out, and of what was not done, when another dialog begins."""
    if script.phase is Phase.READINESS or not script.rows:
        return
    unfit = found_unfit(walk)
    named = {row for rows in unfit.values() for row in rows}
    others = [row for row in sorted(walk.dialog.left_out) if row not in named]
    if others:
        yield walk.wording.say(Key.ROWS_OUT, rows=walk.wording.row_names(others))
    yield from unfit_told(walk, unfit)
    undone = _undone(walk) if script.phase is Phase.CALIBRATION else None
    if undone is not None:
        yield walk.wording.say(Key.NOT_DONE, what=undone)
    if unfit or undone is not None:
        yield walk.wording.say(Key.CHECK_AGAIN, word=_checks(walk)[0].opens.of(walk.state.language)[0])


def unfit_told(walk: Walk, unfit: dict[str, list[int]]) -> Iterator[str]:
    """A line for each thing that was found: "Left out: row 3, hose." """
    for word, rows in unfit.items():
        yield walk.wording.say(Key.ROWS_OUT_FOUND, rows=walk.wording.row_names(rows), found=word)


def _undone(walk: Walk) -> str | None:
    """What of the machine was left undone in the last check; None where all was done or there was none."""
    values = walk.state.book.values
    for script in _checks(walk):
        name = name_in(script.records, Role.MACHINE_CHECK) or ""
        if holds(script.records, Role.MACHINE_DONE, values) is False and name in script.slots:
            return walk.wording.value(values[name], script.slots[name])
    return None


def _checks(walk: Walk) -> Sequence[Script]:
    return [script for script in walk.library.scripts.values() if script.phase is Phase.READINESS]


def _label(walk: Walk, word: str, language: Language) -> str:
    """The word for a condition, as the check writes it; the key itself where no check knows it any more."""
    slots = [script.slots.get(name_in(script.records, Role.CONDITION) or "") for script in _checks(walk)]
    options: list[Choice] = [slot.options[word] for slot in slots if slot and word in slot.options]
    return options[0].label.of(language) if options else word
