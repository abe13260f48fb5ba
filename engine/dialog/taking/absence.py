"""Rows that are done without: left out by the operator, never caught, or off when he has enough."""

from __future__ import annotations

from collections.abc import Sequence

from engine.calculations.advisor.verdict import FIT_TO_PLANT
from engine.dialog.facts.events import Finished, TakenIn
from engine.dialog.facts.question import Question, QuestionKind
from engine.dialog.facts.waiting import row_count, rows_of
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Phase, Role, name_in
from engine.dialog.taking.readiness import note_found, note_out
from engine.dialog.taking.verdicts import last_judged
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.messages import LeavingOut


def leave_out(walk: TurnBuilder, entry: LeavingOut) -> None:
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
        walk.say(SystemKey.NONE_LEFT)
    else:
        note_out(walk, entry.rows, entry.said)
        left = len(every - out - set(entry.rows))
        walk.say(SystemKey.LEFT_OUT, rows=walk.wording.row_names(entry.rows), count=str(left))


def _take_in(walk: TurnBuilder, rows: Sequence[int]) -> None:
    if not rows:
        walk.say(SystemKey.NOT_LEFT_OUT)
        return
    walk.add(TakenIn(rows=tuple(rows)))
    walk.say(SystemKey.TAKEN_IN, rows=walk.wording.row_names(rows))


def stop_here(walk: TurnBuilder) -> None:
    """End before every row is on target: those that are not are done without, after a yes."""
    stops_at, judged = walk.script.stops_at, last_judged(walk)
    if stops_at is None or judged is None or judged.script.dialog != walk.script.dialog:
        walk.say(SystemKey.NOTHING_TO_STOP)
        return
    verdicts = judged.dialog.rows[name_in(judged.script.records, Role.VERDICT) or ""]
    off = tuple(row for row in rows_of(walk.script, walk.dialog) if verdicts.get(row) not in FIT_TO_PLANT)
    if not off:
        _go_to_end(walk)
    elif len(off) == len(rows_of(walk.script, walk.dialog)):
        walk.say(SystemKey.NONE_LEFT)
    else:
        walk.questions.insert(0, Question(about=QuestionKind.STOP, rows=off))


def stopped(walk: TurnBuilder, rows: tuple[int, ...]) -> None:
    """The yes to that."""
    note_out(walk, rows, walk.wording.say(SystemKey.REASON_OFF))
    _go_to_end(walk)


def _go_to_end(walk: TurnBuilder) -> None:
    walk.questions = []
    walk.back_to = walk.script.places[walk.script.stops_at or ""]


def after_check(walk: TurnBuilder) -> None:
    """What a check before work found, once it is over: rows that are not fit are done without, fit ones come back."""
    if any(isinstance(fact, Finished) and fact.phase is Phase.READINESS for fact in walk.facts):
        found = walk.state.book.of(Role.CONDITION)
        note_found(walk, found if isinstance(found, dict) else {})
