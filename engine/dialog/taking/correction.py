"""Taking back what was said last, and opening a value again to be given anew."""

from __future__ import annotations

from engine.dialog.activity import KeptReport
from engine.dialog.facts.question import Question
from engine.dialog.reply.sentences import place
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.script import asks
from engine.dialog.taking.slot_filling import back_to_last_run, reopen
from engine.dialog.taking.undo import take_back
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.messages import Command, Commanded, Correcting


def scratch(walk: TurnBuilder, commanded: Commanded) -> None:
    """Take back what was said last, or open the value of the row that is named."""
    if commanded.row is not None and walk.activity is None:
        correct(walk, Correcting(row=commanded.row))
        return
    if walk.questions and not _is_said_since(walk, walk.questions[0]):
        walk.questions.pop(0)
        walk.say(SystemKey.DROPPED)
        return
    take_back(walk)


def _is_said_since(walk: TurnBuilder, question: Question) -> bool:
    """Whether a report was kept after a question was asked of what was surely said: it is what was said last.

    One that was heard unsurely may never have been said, and is what "scratch that" means first.
    """
    if question.key is None:
        return False
    last = walk.dialog.undo[-1].did if walk.dialog.undo else None
    kept = last.at if isinstance(last, KeptReport) else None
    return kept is not None and question.at is not None and kept > question.at


def correct(walk: TurnBuilder, wanted: Correcting) -> None:
    """Open a value again: of the row or slot that was named, in this run or the one before."""
    if walk.activity is not None:
        walk.say(SystemKey.SAY_ANEW)
        return
    slot = wanted.slot or _slot_of_row(walk, wanted.row)
    if slot is None and wanted.row is None:
        scratch(walk, Commanded(command=Command.BACK))
        return
    if slot is None:
        walk.say(SystemKey.NOTHING_TO_WITHDRAW)
        return
    if reopen(walk, slot, wanted.row):
        return
    before = walk.dialog.runs[-1].get(slot, {}) if walk.dialog.runs else {}
    if wanted.row in before and not walk.dialog.rows.get(slot):
        back_to_last_run(walk)
        reopen(walk, slot, wanted.row)
        return
    walk.say(SystemKey.NOT_GIVEN, place=place(walk.script, walk.wording, slot, wanted.row))


def _slot_of_row(walk: TurnBuilder, row: int | None) -> str | None:
    """The per-row slot meant by "correct row two": the one asked here, else the last asked that has the row."""
    if row is None:
        return None
    here = asks(walk.script.step(walk.dialog.step))
    slots = [slot for slot in reversed(walk.script.asked_at) if walk.script.slots[slot].per_row]
    slots.sort(key=lambda slot: (slot not in here, walk.dialog.value(slot, row) is None))
    return next(iter(slots), None)
