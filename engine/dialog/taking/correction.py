"""Taking back what was said last, opening a value again to be given anew, and correcting the run before."""

from __future__ import annotations

from engine.dialog.activity import KeptReport
from engine.dialog.facts.book_facts import RowsRepaired
from engine.dialog.facts.events import Kept, LeftOut, Reopened, Skipped
from engine.dialog.facts.question import Question, QuestionKind, ValueReading
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.sentences import place, row_places
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.script import asks
from engine.dialog.taking.slot_filling import alike, give, give_rows, record, return_to, say_unchanged
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.messages import Command, Commanded, Correcting, Given


def scratch(walk: TurnBuilder, commanded: Commanded) -> None:
    """Take back what was said last, or open the value of the row that is named."""
    if commanded.row is not None and walk.activity is None:
        correct(walk, Correcting(row=commanded.row))
        return
    if walk.questions and not _is_said_since(walk, walk.questions[0]):
        walk.questions.pop(0)
        walk.say(SystemKey.DROPPED)
        return
    _take_back(walk)


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
    if _reopen(walk, slot, wanted.row):
        return
    before = walk.dialog.runs[-1].get(slot, {}) if walk.dialog.runs else {}
    if wanted.row in before and not walk.dialog.rows.get(slot):
        _back_to_last_run(walk)
        _reopen(walk, slot, wanted.row)
        return
    walk.say(SystemKey.NOT_GIVEN, place=place(walk.script, walk.wording, slot, wanted.row))


def _reopen(walk: TurnBuilder, slot: str, row: int | None) -> bool:
    """Open a value again so that it is asked; False where there is none."""
    value = walk.dialog.value(slot, row)
    if value is None:
        return False
    walk.add(Reopened(slot=slot, row=row, run=walk.dialog.run, value=value))
    walk.say(
        SystemKey.REOPENED,
        place=place(walk.script, walk.wording, slot, row),
        value=walk.wording.value(value, walk.script.slots[slot]),
    )
    return_to(walk, slot)
    return True


def _slot_of_row(walk: TurnBuilder, row: int | None) -> str | None:
    """The per-row slot meant by "correct row two": the one asked here, else the last asked that has the row."""
    if row is None:
        return None
    here = asks(walk.script.step(walk.dialog.step))
    slots = [slot for slot in reversed(walk.script.asked_at) if walk.script.slots[slot].per_row]
    slots.sort(key=lambda slot: (slot not in here, walk.dialog.value(slot, row) is None))
    return next(iter(slots), None)


# ---------------------------------------------------------------- taking back


def _take_back(walk: TurnBuilder) -> None:
    """Undo the last thing, say what that was and what stands there now."""
    if not walk.dialog.undo:
        walk.say(SystemKey.NOTHING_TO_WITHDRAW)
        return
    did = walk.dialog.undo[-1].did
    if isinstance(did, KeptReport):
        walk.withdraw()
        walk.say(SystemKey.WITHDRAWN_REPORT, said=did.said)
    elif isinstance(did, LeftOut):
        walk.withdraw()
        walk.say(SystemKey.WITHDRAWN_OUT, rows=walk.wording.row_names(did.rows))
    elif isinstance(did, RowsRepaired):
        walk.withdraw()
        walk.say(AnswerKey.REPAIR_DROPPED, place=walk.wording.row_place(did.rows))
    elif isinstance(did, Kept) and len(did.together) > 1:
        _take_back_rows(walk, did)
    else:
        _take_back_one(walk, did)


def _take_back_rows(walk: TurnBuilder, did: Kept) -> None:
    slot = walk.script.slots[did.slot]
    left, rows = set(did.together), []
    while left and walk.dialog.undo and isinstance(one := walk.dialog.undo[-1].did, Kept) and _goes_with(one, did):
        walk.withdraw()
        left.discard(one.row or 0)
        rows.append(one.row or 0)
    where = row_places(walk.script, walk.wording, did.slot, sorted(rows))
    before = (walk.dialog.value(did.slot, row) for row in sorted(rows))
    again = dict.fromkeys(walk.wording.value(value, slot) for value in before if value is not None)
    if again:
        walk.say(SystemKey.WITHDRAWN_ROWS_TO, place=where, value=", ".join(again))
    else:
        walk.say(SystemKey.WITHDRAWN, place=where, value=walk.wording.value(did.value, slot))


def _goes_with(one: Kept, did: Kept) -> bool:
    return (one.slot, one.run, one.together) == (did.slot, did.run, did.together)


def _take_back_one(walk: TurnBuilder, did: Kept | Skipped) -> None:
    value = walk.dialog.value(did.slot, did.row) or (did.value if isinstance(did, Kept) else None)
    where = place(walk.script, walk.wording, did.slot, did.row)
    walk.withdraw()
    again = walk.dialog.value(did.slot, did.row)
    slot = walk.script.slots[did.slot]
    if again is not None:
        walk.say(SystemKey.WITHDRAWN_TO, place=where, value=walk.wording.value(again, slot))
    elif isinstance(did, Skipped) or value is None:
        walk.say(SystemKey.WITHDRAWN_SKIP, place=where)
    else:
        walk.say(SystemKey.WITHDRAWN, place=where, value=walk.wording.value(value, slot))


# ---------------------------------------------------------------- in the run before


def keep_reading(walk: TurnBuilder, reading: ValueReading, answered: frozenset[QuestionKind]) -> None:
    """Keep every value of a reading that the operator chose, in the run it belongs to."""
    if reading.run < walk.dialog.run:
        first, *others = reading.givens
        _correct_last_run(walk, first)
        for given in others:
            give(walk, given, frozenset(QuestionKind))
        return
    for givens in alike(reading.givens):
        give_rows(walk, givens, answered)


def _correct_last_run(walk: TurnBuilder, given: Given) -> None:
    """Go back to the end of the run before, with its last value kept again, and correct one value there."""
    if walk.dialog.runs[-1].get(given.slot, {}).get(given.row or 0) == given.value:
        say_unchanged(walk, given)
        return
    last = _back_to_last_run(walk)
    if last is None or (last.slot, last.row) != (given.slot, given.row):
        old = walk.dialog.value(given.slot, given.row)
    else:
        old = last.value
    record(walk, given, old)
    slot = walk.script.slots[given.slot]
    walk.say(
        SystemKey.CORRECTED_RUN,
        run=str(walk.dialog.run),
        place=place(walk.script, walk.wording, given.slot, given.row),
        old=walk.wording.value(old, slot) if old is not None else "?",
        value=walk.wording.value(given.value, slot),
    )


def _back_to_last_run(walk: TurnBuilder) -> Kept | None:
    """Undo the beginning of this run; what was done last in the run before is done again, and returned if kept.

    What this run has already been told is set aside, for when the walk comes to it again in this turn.
    """
    run = walk.dialog.run
    undone: list[Kept | Skipped | LeftOut | RowsRepaired] = []
    while walk.dialog.run == run and walk.dialog.undo and not isinstance(did := walk.dialog.undo[-1].did, KeptReport):
        walk.withdraw()
        undone.insert(0, did)
    last, *later = undone
    walk.set_aside = tuple(later)
    walk.add(last)
    return last if isinstance(last, Kept) else None
