"""Rows that are done without: left out by the operator, found unfit, never caught, or off when he has enough.

What a check before work found and is still so is told where work begins.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from engine.calculations.advisor.verdict import FIT_TO_PLANT
from engine.calculations.runs.fitness import RowCondition
from engine.data.languages import LANGUAGES
from engine.dialog.facts.events import Finished, LeftOut, TakenIn
from engine.dialog.facts.question import Question, QuestionKind
from engine.dialog.facts.waiting import row_count, rows_of
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.script import Script
from engine.dialog.schema.slot import SlotOption
from engine.dialog.schema.slot_roles import Phase, Role, holds, name_in
from engine.dialog.taking.verdicts import last_judged
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.messages import Language, LeavingOut
from engine.values import Rows

# ---------------------------------------------------------------- by a check before work


def note_found(builder: TurnBuilder, found: Rows) -> None:
    """Do without the rows that were found unfit, under the word for it, and take those in again that are fit."""
    fit = tuple(row for row, one in found.items() if one == RowCondition.FIT and row in builder.state.book.left_out)
    if fit:
        builder.add(TakenIn(rows=fit))
    for word in dict.fromkeys(str(one) for one in found.values() if one != RowCondition.FIT):
        rows = tuple(sorted(row for row, one in found.items() if one == word))
        note_out(builder, rows, _label(builder, word, builder.state.language))


def note_out(builder: TurnBuilder, rows: tuple[int, ...], said: str) -> None:
    """Do without rows from now on; ``said`` is why."""
    known = builder.state.book.left_out
    builder.add(LeftOut(rows=rows, said=said, before={row: known[row] for row in rows if row in known}))


def found_unfit(builder: TurnBuilder) -> dict[str, list[int]]:
    """Rows that are done without because of what a check found at them, by the word for it in today's language."""
    known, out = builder.state.book.of(Role.CONDITION), builder.state.book.left_out
    conditions = known if isinstance(known, dict) else {}
    found: dict[str, list[int]] = {}
    for row in sorted(out):
        word = str(conditions.get(row, RowCondition.FIT))
        if word != RowCondition.FIT and out[row] in {_label(builder, word, one) for one in LANGUAGES}:
            found.setdefault(_label(builder, word, builder.state.language), []).append(row)
    return found


def told_at_start(builder: TurnBuilder, script: Script) -> Iterator[str]:
    """What is said of rows left out, and of what was not done, when another dialog begins."""
    if script.phase is Phase.READINESS or not script.rows:
        return
    unfit = found_unfit(builder)
    named = {row for rows in unfit.values() for row in rows}
    others = [row for row in sorted(builder.dialog.left_out) if row not in named]
    if others:
        yield builder.wording.say(SystemKey.ROWS_OUT, rows=builder.wording.row_names(others))
    yield from unfit_told(builder, unfit)
    undone = _undone(builder) if script.phase is Phase.CALIBRATION else None
    if undone is not None:
        yield builder.wording.say(SystemKey.NOT_DONE, what=undone)
    if unfit or undone is not None:
        yield builder.wording.say(SystemKey.CHECK_AGAIN, word=_checks(builder)[0].opening(builder.state.language))


def unfit_told(builder: TurnBuilder, unfit: dict[str, list[int]]) -> Iterator[str]:
    """A line for each thing that was found: "Left out: row 3, hose." """
    for word, rows in unfit.items():
        yield builder.wording.say(SystemKey.ROWS_OUT_FOUND, rows=builder.wording.row_names(rows), found=word)


def _undone(builder: TurnBuilder) -> str | None:
    """What of the machine was left undone in the last check; None where all was done or there was none."""
    values = builder.state.book.values
    for script in _checks(builder):
        name = name_in(script.records, Role.MACHINE_CHECK) or ""
        if holds(script.records, Role.MACHINE_DONE, values) is False and name in script.slots:
            return builder.wording.value(values[name], script.slots[name])
    return None


def _checks(builder: TurnBuilder) -> Sequence[Script]:
    return [script for script in builder.library.scripts.values() if script.phase is Phase.READINESS]


def _label(builder: TurnBuilder, word: str, language: Language) -> str:
    """The word for a condition, as the check writes it; the key itself where no check knows it any more."""
    slots = [script.slots.get(name_in(script.records, Role.CONDITION) or "") for script in _checks(builder)]
    options: list[SlotOption] = [slot.options[word] for slot in slots if slot and word in slot.options]
    return options[0].label.of(language) if options else word


# ---------------------------------------------------------------- by the operator


def leave_out(builder: TurnBuilder, entry: LeavingOut) -> None:
    """Do without rows from now on, or take them in again."""
    if builder.state.dialog is not None and row_count(builder.script, builder.dialog):
        every = set(range(1, row_count(builder.script, builder.dialog) + 1))
    else:
        known = builder.state.book.of(Role.ROWS)
        every = set(range(1, known + 1)) if isinstance(known, int) else set(entry.rows)
    out = set(builder.state.book.left_out)
    if entry.back:
        _take_in(builder, sorted(out & set(entry.rows)))
    elif every <= out | set(entry.rows):
        builder.say(SystemKey.NONE_LEFT)
    else:
        note_out(builder, entry.rows, entry.said)
        left = len(every - out - set(entry.rows))
        builder.say(SystemKey.LEFT_OUT, rows=builder.wording.row_names(entry.rows), count=str(left))


def _take_in(builder: TurnBuilder, rows: Sequence[int]) -> None:
    if not rows:
        builder.say(SystemKey.NOT_LEFT_OUT)
        return
    builder.add(TakenIn(rows=tuple(rows)))
    builder.say(SystemKey.TAKEN_IN, rows=builder.wording.row_names(rows))


def stop_here(builder: TurnBuilder) -> None:
    """End before every row is on target: those that are not are done without, after a yes."""
    stops_at, judged = builder.script.stops_at, last_judged(builder)
    if stops_at is None or judged is None or judged.script.dialog != builder.script.dialog:
        builder.say(SystemKey.NOTHING_TO_STOP)
        return
    verdicts = judged.dialog.rows[name_in(judged.script.records, Role.VERDICT) or ""]
    off = tuple(row for row in rows_of(builder.script, builder.dialog) if verdicts.get(row) not in FIT_TO_PLANT)
    if not off:
        _go_to_end(builder)
    elif len(off) == len(rows_of(builder.script, builder.dialog)):
        builder.say(SystemKey.NONE_LEFT)
    else:
        builder.questions.insert(0, Question(about=QuestionKind.STOP, rows=off))


def stopped(builder: TurnBuilder, rows: tuple[int, ...]) -> None:
    """The yes to that."""
    note_out(builder, rows, builder.wording.say(SystemKey.REASON_OFF))
    _go_to_end(builder)


def _go_to_end(builder: TurnBuilder) -> None:
    builder.questions = []
    builder.back_to = builder.script.places[builder.script.stops_at or ""]


def after_check(builder: TurnBuilder) -> None:
    """What a check before work found, once it is over: rows that are not fit are done without, fit ones come back."""
    if any(isinstance(fact, Finished) and fact.phase is Phase.READINESS for fact in builder.facts):
        found = builder.state.book.of(Role.CONDITION)
        note_found(builder, found if isinstance(found, dict) else {})
