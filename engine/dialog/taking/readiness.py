"""What a check before work found and is still so: told where work begins, and what becomes of it in other dialogs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from engine.calculations.runs.fitness import RowCondition
from engine.data.languages import LANGUAGES
from engine.dialog.facts.events import LeftOut, TakenIn
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.script import Script
from engine.dialog.schema.slot import SlotOption
from engine.dialog.schema.slot_roles import Phase, Role, holds, name_in
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.messages import Language
from engine.values import Rows


def note_found(walk: TurnBuilder, found: Rows) -> None:
    """Do without the rows that were found unfit, under the word for it, and take those in again that are fit."""
    fit = tuple(row for row, one in found.items() if one == RowCondition.FIT and row in walk.state.book.left_out)
    if fit:
        walk.add(TakenIn(rows=fit))
    for word in dict.fromkeys(str(one) for one in found.values() if one != RowCondition.FIT):
        rows = tuple(sorted(row for row, one in found.items() if one == word))
        note_out(walk, rows, _label(walk, word, walk.state.language))


def note_out(walk: TurnBuilder, rows: tuple[int, ...], said: str) -> None:
    """Do without rows from now on; ``said`` is why."""
    known = walk.state.book.left_out
    walk.add(LeftOut(rows=rows, said=said, before={row: known[row] for row in rows if row in known}))


def found_unfit(walk: TurnBuilder) -> dict[str, list[int]]:
    """Rows that are done without because of what a check found at them, by the word for it in today's language."""
    known, out = walk.state.book.of(Role.CONDITION), walk.state.book.left_out
    conditions = known if isinstance(known, dict) else {}
    found: dict[str, list[int]] = {}
    for row in sorted(out):
        word = str(conditions.get(row, RowCondition.FIT))
        if word != RowCondition.FIT and out[row] in {_label(walk, word, one) for one in LANGUAGES}:
            found.setdefault(_label(walk, word, walk.state.language), []).append(row)
    return found


def told_at_start(walk: TurnBuilder, script: Script) -> Iterator[str]:
    """What is said of rows left out, and of what was not done, when another dialog begins."""
    if script.phase is Phase.READINESS or not script.rows:
        return
    unfit = found_unfit(walk)
    named = {row for rows in unfit.values() for row in rows}
    others = [row for row in sorted(walk.dialog.left_out) if row not in named]
    if others:
        yield walk.wording.say(SystemKey.ROWS_OUT, rows=walk.wording.row_names(others))
    yield from unfit_told(walk, unfit)
    undone = _undone(walk) if script.phase is Phase.CALIBRATION else None
    if undone is not None:
        yield walk.wording.say(SystemKey.NOT_DONE, what=undone)
    if unfit or undone is not None:
        yield walk.wording.say(SystemKey.CHECK_AGAIN, word=_checks(walk)[0].opening(walk.state.language))


def unfit_told(walk: TurnBuilder, unfit: dict[str, list[int]]) -> Iterator[str]:
    """A line for each thing that was found: "Left out: row 3, hose." """
    for word, rows in unfit.items():
        yield walk.wording.say(SystemKey.ROWS_OUT_FOUND, rows=walk.wording.row_names(rows), found=word)


def _undone(walk: TurnBuilder) -> str | None:
    """What of the machine was left undone in the last check; None where all was done or there was none."""
    values = walk.state.book.values
    for script in _checks(walk):
        name = name_in(script.records, Role.MACHINE_CHECK) or ""
        if holds(script.records, Role.MACHINE_DONE, values) is False and name in script.slots:
            return walk.wording.value(values[name], script.slots[name])
    return None


def _checks(walk: TurnBuilder) -> Sequence[Script]:
    return [script for script in walk.library.scripts.values() if script.phase is Phase.READINESS]


def _label(walk: TurnBuilder, word: str, language: Language) -> str:
    """The word for a condition, as the check writes it; the key itself where no check knows it any more."""
    slots = [script.slots.get(name_in(script.records, Role.CONDITION) or "") for script in _checks(walk)]
    options: list[SlotOption] = [slot.options[word] for slot in slots if slot and word in slot.options]
    return options[0].label.of(language) if options else word
