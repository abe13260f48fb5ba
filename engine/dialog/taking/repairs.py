"""Rows that were rebuilt or got a new part: noted whenever it is told outside a shift, since their wear begins anew."""

from __future__ import annotations

from datetime import timedelta

from engine.dialog.facts.book_facts import RepairDropped, RowsRepaired
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.messages import Repairing

JUST_TOLD = timedelta(minutes=10)
"""So long "scratch that" outside a dialog means the repair that was told last (own decision)."""


def note_repair(builder: TurnBuilder, told: Repairing) -> None:
    """Note a repair and read it back, or take the newest of these rows back."""
    if not told.back:
        builder.add(RowsRepaired(rows=told.rows, said=told.said, at=builder.now))
        builder.say(AnswerKey.REPAIR_NOTED, place=builder.wording.row_place(told.rows))
        return
    known = tuple(row for row in told.rows if any(row in one.rows for one in builder.state.book.repairs))
    if known:
        _drop(builder, known)
    else:
        builder.say(AnswerKey.NO_REPAIR, rows=builder.wording.row_names(told.rows))


def take_back_repair(builder: TurnBuilder) -> bool:
    """Take back the repair that was told a moment ago; False where none was."""
    repairs = builder.state.book.repairs
    if not repairs or builder.now - repairs[-1].at > JUST_TOLD:
        return False
    _drop(builder, repairs[-1].rows)
    return True


def _drop(builder: TurnBuilder, rows: tuple[int, ...]) -> None:
    builder.add(RepairDropped(rows=rows))
    builder.say(AnswerKey.REPAIR_DROPPED, place=builder.wording.row_place(rows))
