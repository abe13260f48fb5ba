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


def scratch(builder: TurnBuilder, commanded: Commanded) -> None:
    """Take back what was said last, or open the value of the row that is named."""
    if commanded.row is not None and builder.activity is None:
        correct(builder, Correcting(row=commanded.row))
        return
    if builder.questions and not _is_said_since(builder, builder.questions[0]):
        builder.questions.pop(0)
        builder.say(SystemKey.DROPPED)
        return
    _take_back(builder)


def _is_said_since(builder: TurnBuilder, question: Question) -> bool:
    """Whether a report was kept after a question was asked of what was surely said: it is what was said last.

    One that was heard unsurely may never have been said, and is what "scratch that" means first.
    """
    if question.key is None:
        return False
    last = builder.dialog.undo[-1].did if builder.dialog.undo else None
    kept = last.at if isinstance(last, KeptReport) else None
    return kept is not None and question.at is not None and kept > question.at


def correct(builder: TurnBuilder, wanted: Correcting) -> None:
    """Open a value again: of the row or slot that was named, in this run or the one before."""
    if builder.activity is not None:
        builder.say(SystemKey.SAY_ANEW)
        return
    slot = wanted.slot or _slot_of_row(builder, wanted.row)
    if slot is None and wanted.row is None:
        scratch(builder, Commanded(command=Command.BACK))
        return
    if slot is None:
        builder.say(SystemKey.NOTHING_TO_WITHDRAW)
        return
    if _reopen(builder, slot, wanted.row):
        return
    before = builder.dialog.runs[-1].get(slot, {}) if builder.dialog.runs else {}
    if wanted.row in before and not builder.dialog.rows.get(slot):
        _back_to_last_run(builder)
        _reopen(builder, slot, wanted.row)
        return
    builder.say(SystemKey.NOT_GIVEN, place=place(builder.script, builder.wording, slot, wanted.row))


def _reopen(builder: TurnBuilder, slot: str, row: int | None) -> bool:
    """Open a value again so that it is asked; False where there is none."""
    value = builder.dialog.value(slot, row)
    if value is None:
        return False
    builder.add(Reopened(slot=slot, row=row, run=builder.dialog.run, value=value))
    builder.say(
        SystemKey.REOPENED,
        place=place(builder.script, builder.wording, slot, row),
        value=builder.wording.value(value, builder.script.slots[slot]),
    )
    return_to(builder, slot)
    return True


def _slot_of_row(builder: TurnBuilder, row: int | None) -> str | None:
    """The per-row slot meant by "correct row two": the one asked here, else the last asked that has the row."""
    if row is None:
        return None
    here = asks(builder.script.step(builder.dialog.step))
    slots = [slot for slot in reversed(builder.script.asked_at) if builder.script.slots[slot].per_row]
    slots.sort(key=lambda slot: (slot not in here, builder.dialog.value(slot, row) is None))
    return next(iter(slots), None)


# ---------------------------------------------------------------- taking back


def _take_back(builder: TurnBuilder) -> None:
    """Undo the last thing, say what that was and what stands there now."""
    if not builder.dialog.undo:
        builder.say(SystemKey.NOTHING_TO_WITHDRAW)
        return
    did = builder.dialog.undo[-1].did
    if isinstance(did, KeptReport):
        builder.withdraw()
        builder.say(SystemKey.WITHDRAWN_REPORT, said=did.said)
    elif isinstance(did, LeftOut):
        builder.withdraw()
        builder.say(SystemKey.WITHDRAWN_OUT, rows=builder.wording.row_names(did.rows))
    elif isinstance(did, RowsRepaired):
        builder.withdraw()
        builder.say(AnswerKey.REPAIR_DROPPED, place=builder.wording.row_place(did.rows))
    elif isinstance(did, Kept) and len(did.together) > 1:
        _take_back_rows(builder, did)
    else:
        _take_back_one(builder, did)


def _take_back_rows(builder: TurnBuilder, did: Kept) -> None:
    slot = builder.script.slots[did.slot]
    left, rows = set(did.together), []
    while (
        left and builder.dialog.undo and isinstance(one := builder.dialog.undo[-1].did, Kept) and _goes_with(one, did)
    ):
        builder.withdraw()
        left.discard(one.row or 0)
        rows.append(one.row or 0)
    where = row_places(builder.script, builder.wording, did.slot, sorted(rows))
    before = (builder.dialog.value(did.slot, row) for row in sorted(rows))
    again = dict.fromkeys(builder.wording.value(value, slot) for value in before if value is not None)
    if again:
        builder.say(SystemKey.WITHDRAWN_ROWS_TO, place=where, value=", ".join(again))
    else:
        builder.say(SystemKey.WITHDRAWN, place=where, value=builder.wording.value(did.value, slot))


def _goes_with(one: Kept, did: Kept) -> bool:
    return (one.slot, one.run, one.together) == (did.slot, did.run, did.together)


def _take_back_one(builder: TurnBuilder, did: Kept | Skipped) -> None:
    value = builder.dialog.value(did.slot, did.row) or (did.value if isinstance(did, Kept) else None)
    where = place(builder.script, builder.wording, did.slot, did.row)
    builder.withdraw()
    again = builder.dialog.value(did.slot, did.row)
    slot = builder.script.slots[did.slot]
    if again is not None:
        builder.say(SystemKey.WITHDRAWN_TO, place=where, value=builder.wording.value(again, slot))
    elif isinstance(did, Skipped) or value is None:
        builder.say(SystemKey.WITHDRAWN_SKIP, place=where)
    else:
        builder.say(SystemKey.WITHDRAWN, place=where, value=builder.wording.value(value, slot))


# ---------------------------------------------------------------- in the run before


def keep_reading(builder: TurnBuilder, reading: ValueReading, answered: frozenset[QuestionKind]) -> None:
    """Keep every value of a reading that the operator chose, in the run it belongs to."""
    if reading.run < builder.dialog.run:
        first, *others = reading.givens
        _correct_last_run(builder, first)
        for given in others:
            give(builder, given, frozenset(QuestionKind))
        return
    for givens in alike(reading.givens):
        give_rows(builder, givens, answered)


def _correct_last_run(builder: TurnBuilder, given: Given) -> None:
    """Go back to the end of the run before, with its last value kept again, and correct one value there."""
    if builder.dialog.runs[-1].get(given.slot, {}).get(given.row or 0) == given.value:
        say_unchanged(builder, given)
        return
    last = _back_to_last_run(builder)
    if last is None or (last.slot, last.row) != (given.slot, given.row):
        old = builder.dialog.value(given.slot, given.row)
    else:
        old = last.value
    record(builder, given, old)
    slot = builder.script.slots[given.slot]
    builder.say(
        SystemKey.CORRECTED_RUN,
        run=str(builder.dialog.run),
        place=place(builder.script, builder.wording, given.slot, given.row),
        old=builder.wording.value(old, slot) if old is not None else "?",
        value=builder.wording.value(given.value, slot),
    )


def _back_to_last_run(builder: TurnBuilder) -> Kept | None:
    """Undo the beginning of this run; what was done last in the run before is done again, and returned if kept.

    What this run has already been told is set aside, for when the dialog comes to it again in this turn.
    """
    run = builder.dialog.run
    undone: list[Kept | Skipped | LeftOut | RowsRepaired] = []
    while (
        builder.dialog.run == run
        and builder.dialog.undo
        and not isinstance(did := builder.dialog.undo[-1].did, KeptReport)
    ):
        builder.withdraw()
        undone.insert(0, did)
    last, *later = undone
    builder.set_aside = tuple(later)
    builder.add(last)
    return last if isinstance(last, Kept) else None
