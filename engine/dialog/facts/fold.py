"""The fold: the state of a conversation is made of its facts one after another, and of nothing else."""

from __future__ import annotations

from collections.abc import Iterable
from functools import reduce
from typing import assert_never

from engine.dialog.activity import ActivityFact, KeptReport, folded
from engine.dialog.facts.book import named_in
from engine.dialog.facts.book_facts import Filled, RepairDropped, RowsRepaired
from engine.dialog.facts.book_fold import applied, learned, left, noted, replaced
from engine.dialog.facts.events import (
    Attached,
    BookFact,
    Cancelled,
    Computed,
    Fact,
    Finished,
    Heard,
    Kept,
    LeftOut,
    Misheard,
    Moved,
    Reopened,
    RunStarted,
    Skipped,
    Started,
    StepFact,
    StepsTold,
    Switched,
    Taken,
    TakenBack,
    TakenIn,
    Withdrawn,
    Wondered,
)
from engine.dialog.facts.state import Again, Before, ConversationState, DialogState
from engine.document import having
from engine.values import Value

UNDO_DEPTH = 40


def fold(state: ConversationState, facts: Iterable[Fact]) -> ConversationState:
    """The state after these facts."""
    return reduce(apply, facts, state)


def apply(state: ConversationState, fact: Fact) -> ConversationState:
    """The state after one more fact."""
    if isinstance(fact, BookFact):
        return _noted(state, fact)
    match fact:
        case Switched(language=language, system=system):
            return replaced(state, language=language or state.language, system=system or state.system, misheard=0)
        case Started(dialog=dialog, script=script, phase=phase, records=records):
            out = tuple(sorted(state.book.left_out))
            begun = DialogState(dialog=dialog, script=script, phase=phase, records=records, left_out=out)
            return replaced(state, dialog=begun, misheard=0)
        case Misheard(also=also):
            return replaced(state, misheard=state.misheard + (not also))
        case Heard():
            return replaced(state, misheard=0)
        case Cancelled():
            watched = state.dialog.activity if state.dialog else None
            book = left(state.book, state.dialog, fact).having_applied(watched)
            return replaced(state, dialog=None, book=book, misheard=0)
        case LeftOut(rows=rows, said=said):
            here = state.dialog and _leave_out(state.dialog, fact)
            return replaced(state, dialog=here, book=state.book.leaving_out(rows, said), misheard=0)
        case TakenIn(rows=rows, still=still):
            here = state.dialog and _take_in(state.dialog, fact)
            return replaced(state, dialog=here, book=state.book.taking_in(rows, still), misheard=0)
        case _:
            return _inside(state, fact)


def _noted(state: ConversationState, fact: BookFact) -> ConversationState:
    here = replaced(state, book=noted(state.book, fact))
    if isinstance(fact, RowsRepaired | RepairDropped):
        return replaced(here, dialog=_repaired(state.dialog, fact), misheard=0)
    return here


def _inside(state: ConversationState, fact: StepFact | Finished | ActivityFact) -> ConversationState:
    if state.dialog is None:
        raise ValueError(f"{fact.kind} outside a dialog")
    if isinstance(fact, Finished):
        book = applied(learned(state.book, state.dialog, fact), state.dialog)
        return replaced(state, dialog=None, book=book, misheard=0)
    return replaced(state, dialog=_step(state.dialog, fact), book=named_in(state.book, fact), misheard=0)


def _step(dialog: DialogState, fact: StepFact | ActivityFact) -> DialogState:
    match fact:
        case Taken(values=values, rows=rows):
            begun = {"recalled": fact.runs, "skipped": fact.skipped, "offers": fact.offers, "applied": fact.applied}
            return replaced(dialog, values={**dialog.values, **values}, rows={**dialog.rows, **rows}, **begun)
        case Filled(values=values):
            skipped = tuple(name for name in dialog.skipped if name not in values)
            return replaced(dialog, values={**dialog.values, **values}, skipped=skipped)
        case Attached(document=document):
            return replaced(dialog, documents=having(dialog.documents, (document,)))
        case Moved(step=step):
            return replaced(dialog, step=step, told=())
        case Kept() | Skipped() | KeptReport() | Withdrawn() | TakenBack():
            return _done(dialog, fact)
        case ActivityFact():
            return replaced(dialog, activity=folded(dialog.activity, fact.completed(dialog.of)))
        case Reopened(slot=slot, row=row):
            return replaced(_open(dialog, slot, row), again=Again(slot=slot, row=row))
        case Computed(results=results):
            values = {name: value for name, value in results.items() if not isinstance(value, dict)}
            rows = {name: value for name, value in results.items() if isinstance(value, dict)}
            return replaced(dialog, values={**dialog.values, **values}, rows={**dialog.rows, **rows})
        case RunStarted():
            return _another_run(dialog, fact)
        case StepsTold(steps=steps):
            return replaced(dialog, told=steps)
        case Wondered(questions=questions):
            return replaced(dialog, questions=questions)
        case _:
            assert_never(fact)


def _done(dialog: DialogState, fact: Kept | Skipped | KeptReport | Withdrawn | TakenBack) -> DialogState:
    match fact:
        case Kept(slot=slot, row=row, value=value):
            return _put(_remember(dialog, fact), slot, row, value)
        case Skipped(slot=slot, row=row):
            return _skip(_remember(dialog, fact), slot, row)
        case KeptReport():
            activity = folded(dialog.activity, fact.completed(dialog.of))
            return replaced(_remember(dialog, fact), activity=activity)
        case Withdrawn() | TakenBack():
            return _undone(dialog)
        case _:
            assert_never(fact)


def _leave_out(dialog: DialogState, fact: LeftOut) -> DialogState:
    """What these rows gave in this run no longer counts; it stays in the record."""
    rows = {name: {row: value for row, value in held.items() if row not in fact.rows}
            for name, held in dialog.rows.items()}  # fmt: skip
    return replaced(_remember(dialog, fact), rows=rows, left_out=tuple(sorted({*dialog.left_out, *fact.rows})))


def _take_in(dialog: DialogState, fact: TakenIn) -> DialogState:
    here = _undone(dialog) if fact.undone else dialog
    return replaced(here, left_out=tuple(row for row in dialog.left_out if row not in fact.rows))


def _repaired(dialog: DialogState | None, fact: RowsRepaired | RepairDropped) -> DialogState | None:
    if dialog is None:
        return None
    if isinstance(fact, RowsRepaired):
        return _remember(dialog, fact)
    return _undone(dialog) if fact.undone else dialog


def _undone(dialog: DialogState) -> DialogState:
    """As it was before the last thing done; rows taken in since then stay in, as the book has them, documents too."""
    kept = {"left_out": dialog.left_out, "documents": dialog.documents}
    return replaced(dialog.undo[-1].state, undo=dialog.undo[:-1], **kept)


def _remember(dialog: DialogState, did: Kept | Skipped | LeftOut | RowsRepaired | KeptReport) -> DialogState:
    before = Before(state=replaced(dialog, undo=(), questions=()), did=did)
    return replaced(dialog, undo=(*dialog.undo, before)[-UNDO_DEPTH:])


def _put(dialog: DialogState, slot: str, row: int | None, value: Value) -> DialogState:
    dialog = _answered(_open(dialog, slot, row), slot, row)
    if row is None:
        return replaced(dialog, values={**dialog.values, slot: value})
    return replaced(dialog, rows={**dialog.rows, slot: {**dialog.rows.get(slot, {}), row: value}})


def _skip(dialog: DialogState, slot: str, row: int | None) -> DialogState:
    dialog = _answered(_open(dialog, slot, row), slot, row)
    if row is None:
        return replaced(dialog, skipped=(*dialog.skipped, slot))
    rows = (*dialog.skipped_rows.get(slot, ()), row)
    return replaced(dialog, skipped_rows={**dialog.skipped_rows, slot: rows})


def _open(dialog: DialogState, slot: str, row: int | None) -> DialogState:
    """Forget a value or a skip, so that the place is open."""
    if row is None:
        values = {name: value for name, value in dialog.values.items() if name != slot}
        return replaced(dialog, values=values, skipped=tuple(name for name in dialog.skipped if name != slot))
    rows = {number: value for number, value in dialog.rows.get(slot, {}).items() if number != row}
    skipped = tuple(number for number in dialog.skipped_rows.get(slot, ()) if number != row)
    return replaced(
        dialog,
        rows={**dialog.rows, slot: rows},
        skipped_rows={**dialog.skipped_rows, slot: skipped},
    )


def _answered(dialog: DialogState, slot: str, row: int | None) -> DialogState:
    return replaced(dialog, again=None) if dialog.again == Again(slot=slot, row=row) else dialog


def _another_run(dialog: DialogState, fact: RunStarted) -> DialogState:
    return replaced(
        dialog,
        run=fact.run,
        runs=() if fact.fresh else (*dialog.runs, dialog.rows),
        recalled={} if fact.fresh else dialog.recalled,
        fresh=dialog.fresh or fact.fresh,
        every=fact.every,
        values={name: value for name, value in dialog.values.items() if name not in fact.cleared},
        skipped=tuple(name for name in dialog.skipped if name not in fact.cleared),
        rows=fact.carried,
        skipped_rows={},
    )
