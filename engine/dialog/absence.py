"""Rows that are done without: left out by the operator, never caught, or off when he has enough."""

from __future__ import annotations

from collections.abc import Sequence

from engine.calculations.fitness import Condition
from engine.calculations.verdict import FIT_TO_PLANT
from engine.dialog.events import Finished, LeftOut, TakenIn
from engine.dialog.house import Key
from engine.dialog.question import About, Question
from engine.dialog.roles import Phase, Role, name_in
from engine.dialog.verdicts import last_judged
from engine.dialog.waiting import row_count, rows_of
from engine.dialog.walk import Walk
from engine.messages import LeavingOut


def leave_out(walk: Walk, entry: LeavingOut) -> None:
    """Do without rows from now on, or take them in again."""
    if walk.state.dialog is not None and row_count(walk.script, walk.dialog):
        every = set(range(1, row_count(walk.script, walk.dialog) + 1))
    else:
        known = walk.state.book.of(Role.ROWS)
        every = set(range(1, known + 1)) if isinstance(known, int) else set(entry.rows)
    out = set(walk.state.book.left_out)
    if entry.back:
        _take_in(walk, sorted(out & set(entry.rows)))
    elif every <= out | set(entry.rows):
        walk.say(Key.NONE_LEFT)
    else:
        _note(walk, entry.rows, entry.said)
        left = len(every - out - set(entry.rows))
        walk.say(Key.LEFT_OUT, rows=walk.wording.row_names(entry.rows), count=str(left))


def _note(walk: Walk, rows: tuple[int, ...], said: str) -> None:
    known = walk.state.book.left_out
    walk.add(LeftOut(rows=rows, said=said, before={row: known[row] for row in rows if row in known}))


def _take_in(walk: Walk, rows: Sequence[int]) -> None:
    if not rows:
        walk.say(Key.NOT_LEFT_OUT)
        return
    walk.add(TakenIn(rows=tuple(rows)))
    walk.say(Key.TAKEN_IN, rows=walk.wording.row_names(rows))


def stop_here(walk: Walk) -> None:
    """End before every row is on target: those that are not are done without, after a yes."""
    stops_at, judged = walk.script.stops_at, last_judged(walk)
    if stops_at is None or judged is None or judged.script.dialog != walk.script.dialog:
        walk.say(Key.NOTHING_TO_STOP)
        return
    verdicts = judged.dialog.rows[name_in(judged.script.records, Role.VERDICT) or ""]
    off = tuple(row for row in rows_of(walk.script, walk.dialog) if verdicts.get(row) not in FIT_TO_PLANT)
    if not off:
        _go_to_end(walk)
    elif len(off) == len(rows_of(walk.script, walk.dialog)):
        walk.say(Key.NONE_LEFT)
    else:
        walk.questions.insert(0, Question(about=About.STOP, rows=off))


def stopped(walk: Walk, rows: tuple[int, ...]) -> None:
    """The yes to that."""
    _note(walk, rows, walk.wording.say(Key.REASON_OFF))
    _go_to_end(walk)


def _go_to_end(walk: Walk) -> None:
    walk.questions = []
    walk.back_to = walk.script.places[walk.script.stops_at or ""]


def after_check(walk: Walk) -> None:
    """What a check before work found, once it is over: rows that are not fit are done without, fit ones come back."""
    if not any(isinstance(fact, Finished) and fact.phase is Phase.READINESS for fact in walk.facts):
        return
    book = walk.state.book
    found = book.of(Role.CONDITION)
    if not isinstance(found, dict):
        return
    fit = tuple(row for row, one in found.items() if one == Condition.FIT and row in book.left_out)
    if fit:
        walk.add(TakenIn(rows=fit))
    checks = [script for script in walk.library.scripts.values() if script.phase is Phase.READINESS]
    slots = [script.slots[name_in(script.records, Role.CONDITION) or ""] for script in checks]
    for word in dict.fromkeys(str(one) for one in found.values() if one != Condition.FIT):
        rows = tuple(sorted(row for row, one in found.items() if one == word))
        said = next((slot.options[word].label.of(walk.state.language) for slot in slots if word in slot.options), word)
        _note(walk, rows, said)
