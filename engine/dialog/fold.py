"""The fold: the state of a conversation is made of its facts one after another, and of nothing else."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import reduce
from typing import TypeVar, assert_never

from engine.dialog.activity import ActivityFact, KeptReport, folded
from engine.dialog.book import Book, Ended, named_in, roles_known, worth_keeping
from engine.dialog.events import (
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
    RepairDropped,
    Repaired,
    RunStarted,
    Skipped,
    Started,
    Switched,
    Taken,
    TakenBack,
    TakenIn,
    Told,
    Withdrawn,
    Wondered,
)
from engine.dialog.possessions import Filled, HoppersLeft, Registered, Renamed, Stocked
from engine.dialog.roles import Phase
from engine.dialog.state import Again, Before, ConversationState, DialogState
from engine.dialog.stock import Stock
from engine.dialog.yearbook import YEARS_KEPT, PastCalibration, Repair, past_calibration
from engine.messages import Message
from engine.values import Rows, Value

UNDO_DEPTH = 40
M = TypeVar("M", bound=Message)


def fold(state: ConversationState, facts: Iterable[Fact]) -> ConversationState:
    """The state after these facts."""
    return reduce(apply, facts, state)


def apply(state: ConversationState, fact: Fact) -> ConversationState:
    """The state after one more fact."""
    match fact:
        case Switched(language=language, system=system):
            return _with(state, language=language or state.language, system=system or state.system, misheard=0)
        case Started(dialog=dialog, script=script, phase=phase, records=records):
            out = tuple(sorted(state.book.left_out))
            begun = DialogState(dialog=dialog, script=script, phase=phase, records=records, left_out=out)
            return _with(state, dialog=begun, misheard=0)
        case Misheard(also=also):
            return _with(state, misheard=state.misheard + (not also))
        case Heard():
            return _with(state, misheard=0)
        case Cancelled():
            return _with(state, dialog=None, book=_note(state.book, state.dialog, fact), misheard=0)
        case LeftOut(rows=rows, said=said):
            here = state.dialog and _leave_out(state.dialog, fact)
            return _with(state, dialog=here, book=state.book.leaving_out(rows, said), misheard=0)
        case TakenIn(rows=rows, still=still):
            here = state.dialog and _take_in(state.dialog, fact)
            return _with(state, dialog=here, book=state.book.taking_in(rows, still), misheard=0)
        case Registered(thing=thing, name=name, values=values):
            return _with(state, book=_with(state.book, things=state.book.things.noting(thing, name, values)))
        case Renamed(thing=thing, name=name, to=to):
            return _with(state, book=state.book.renaming(thing, name, to))
        case Stocked() | HoppersLeft():
            return _with(state, book=_with(state.book, stock=_moved(state.book.stock, fact)))
        case Repaired() | RepairDropped():
            return _repaired(state, fact)
        case _:
            return _inside(state, fact)


def _inside(state: ConversationState, fact: Fact) -> ConversationState:
    if state.dialog is None:
        raise ValueError(f"{fact.kind} outside a dialog")
    if isinstance(fact, Finished):
        return _with(state, dialog=None, book=_learn(state.book, state.dialog, fact), misheard=0)
    return _with(state, dialog=_step(state.dialog, fact), book=named_in(state.book, fact), misheard=0)


def _step(dialog: DialogState, fact: Fact) -> DialogState:
    match fact:
        case Taken() | Filled():
            return _begun_with(dialog, fact)
        case Moved(step=step):
            return _with(dialog, step=step, told=())
        case Kept() | Skipped() | KeptReport() | Withdrawn() | TakenBack():
            return _done(dialog, fact)
        case ActivityFact():
            return _with(dialog, activity=folded(dialog.activity, fact.completed(dialog.of)))
        case Reopened(slot=slot, row=row):
            return _with(_open(dialog, slot, row), again=Again(slot=slot, row=row))
        case Computed(results=results):
            values = {name: value for name, value in results.items() if not isinstance(value, dict)}
            rows = {name: value for name, value in results.items() if isinstance(value, dict)}
            return _with(dialog, values={**dialog.values, **values}, rows={**dialog.rows, **rows})
        case RunStarted():
            return _another_run(dialog, fact)
        case Told(steps=steps):
            return _with(dialog, told=steps)
        case Wondered(questions=questions):
            return _with(dialog, questions=questions)
        case (
            Started() | Switched() | Misheard() | Heard() | Cancelled() | Finished() | LeftOut() | TakenIn()
            | Repaired() | RepairDropped()
        ):  # fmt: skip
            raise ValueError(f"{fact.kind} is not a step of a dialog")
        case Registered() | Renamed() | Stocked() | HoppersLeft():
            raise ValueError(f"{fact.kind} is not a step of a dialog")
        case _:
            assert_never(fact)


def _begun_with(dialog: DialogState, fact: Taken | Filled) -> DialogState:
    values = {**dialog.values, **fact.values}
    if isinstance(fact, Filled):
        return _with(dialog, values=values, skipped=tuple(name for name in dialog.skipped if name not in fact.values))
    rows = {**dialog.rows, **fact.rows}
    return _with(dialog, values=values, rows=rows, recalled=fact.runs, skipped=fact.skipped, offers=fact.offers)


def _done(dialog: DialogState, fact: Kept | Skipped | KeptReport | Withdrawn | TakenBack) -> DialogState:
    match fact:
        case Kept(slot=slot, row=row, value=value):
            return _put(_remember(dialog, fact), slot, row, value)
        case Skipped(slot=slot, row=row):
            return _skip(_remember(dialog, fact), slot, row)
        case KeptReport():
            activity = folded(dialog.activity, fact.completed(dialog.of))
            return _with(_remember(dialog, fact), activity=activity)
        case Withdrawn() | TakenBack():
            return _undone(dialog)
        case _:
            assert_never(fact)


def _leave_out(dialog: DialogState, fact: LeftOut) -> DialogState:
    """What these rows gave in this run no longer counts; it stays in the record."""
    rows = {name: {row: value for row, value in held.items() if row not in fact.rows}
            for name, held in dialog.rows.items()}  # fmt: skip
    return _with(_remember(dialog, fact), rows=rows, left_out=tuple(sorted({*dialog.left_out, *fact.rows})))


def _take_in(dialog: DialogState, fact: TakenIn) -> DialogState:
    here = _undone(dialog) if fact.undone else dialog
    return _with(here, left_out=tuple(row for row in dialog.left_out if row not in fact.rows))


def _repaired(state: ConversationState, fact: Repaired | RepairDropped) -> ConversationState:
    if isinstance(fact, Repaired):
        here, repair = (
            state.dialog and _remember(state.dialog, fact),
            Repair(rows=fact.rows, said=fact.said, at=fact.at),
        )
        return _with(state, dialog=here, book=state.book.repaired(repair), misheard=0)
    here = _undone(state.dialog) if state.dialog and fact.undone else state.dialog
    return _with(state, dialog=here, book=state.book.not_repaired(fact.rows), misheard=0)


def _undone(dialog: DialogState) -> DialogState:
    """As it was before the last thing done; rows taken in since then stay in, as the book has them."""
    return _with(dialog.undo[-1].state, undo=dialog.undo[:-1], left_out=dialog.left_out)


def _remember(dialog: DialogState, did: Kept | Skipped | LeftOut | Repaired | KeptReport) -> DialogState:
    before = Before(state=_with(dialog, undo=(), questions=()), did=did)
    return _with(dialog, undo=(*dialog.undo, before)[-UNDO_DEPTH:])


def _put(dialog: DialogState, slot: str, row: int | None, value: Value) -> DialogState:
    dialog = _answered(_open(dialog, slot, row), slot, row)
    if row is None:
        return _with(dialog, values={**dialog.values, slot: value})
    return _with(dialog, rows={**dialog.rows, slot: {**dialog.rows.get(slot, {}), row: value}})


def _skip(dialog: DialogState, slot: str, row: int | None) -> DialogState:
    dialog = _answered(_open(dialog, slot, row), slot, row)
    if row is None:
        return _with(dialog, skipped=(*dialog.skipped, slot))
    rows = (*dialog.skipped_rows.get(slot, ()), row)
    return _with(dialog, skipped_rows={**dialog.skipped_rows, slot: rows})


def _open(dialog: DialogState, slot: str, row: int | None) -> DialogState:
    """Forget a value or a skip, so that the place is open."""
    if row is None:
        values = {name: value for name, value in dialog.values.items() if name != slot}
        return _with(dialog, values=values, skipped=tuple(name for name in dialog.skipped if name != slot))
    rows = {number: value for number, value in dialog.rows.get(slot, {}).items() if number != row}
    skipped = tuple(number for number in dialog.skipped_rows.get(slot, ()) if number != row)
    return _with(
        dialog,
        rows={**dialog.rows, slot: rows},
        skipped_rows={**dialog.skipped_rows, slot: skipped},
    )


def _answered(dialog: DialogState, slot: str, row: int | None) -> DialogState:
    return _with(dialog, again=None) if dialog.again == Again(slot=slot, row=row) else dialog


def _another_run(dialog: DialogState, fact: RunStarted) -> DialogState:
    return _with(
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


def _learn(book: Book, dialog: DialogState, fact: Finished) -> Book:
    if dialog.phase in (Phase.REGISTER, Phase.DELIVERY):
        return _with(book, finished={**book.finished, dialog.dialog: dialog.script})
    values = {**book.values, **dialog.values}
    runs = (*dialog.runs, dialog.rows)
    before = tuple(one for one in book.ended if not (dialog.fresh and one.dialog == dialog.dialog))
    ended = (
        (*before, Ended(dialog=dialog.dialog, values=values, runs=runs, records=dialog.records))
        if any(runs)
        else before
    )
    rows = {**book.rows, **dialog.last_rows}
    return Book(
        values=values,
        rows=rows,
        roles=roles_known(book.roles, dialog.records, {**values, **rows}),
        finished={**book.finished, dialog.dialog: dialog.script},
        ended=worth_keeping(ended),
        learned=_learned(book, dialog),
        skipped={**book.skipped, dialog.dialog: fact.skipped},
        times={**book.times, dialog.dialog: book.times.get(dialog.dialog, 0) + 1},
        names=book.names,
        left_out=book.left_out,
        things=book.things,
        stock=book.stock,
        past=(*book.past, *_calibrated(dialog, runs, fact))[-YEARS_KEPT:],
        repairs=book.repairs,
        left={name: one for name, one in book.left.items() if name != dialog.dialog},
    )


def _moved(stock: Stock, fact: Stocked | HoppersLeft) -> Stock:
    if isinstance(fact, HoppersLeft):
        return stock.leaving(fact.hoppers)
    return stock.moved(fact.product, fact.lot, fact.why, fact.mass, weighed=fact.weighed)


def _calibrated(dialog: DialogState, runs: Sequence[dict[str, Rows]], fact: Finished) -> Iterator[PastCalibration]:
    """What later years look back on, where rows were caught in it."""
    if dialog.phase is Phase.CALIBRATION:
        found = past_calibration(dialog.records, dialog.values, runs, fact.at, dialog.left_out)
        if found.rows:
            yield found


def _note(book: Book, dialog: DialogState | None, fact: Cancelled) -> Book:
    """Per-row values stay known from a dialog that was left, on top of those known before."""
    left = dialog.last_rows if dialog else {}
    rows = {name: {**book.rows.get(name, {}), **rows} for name, rows in left.items()}
    values = {**book.values, **fact.values}
    began = dialog is not None and dialog.activity is not None
    before = {name: one for name, one in book.left.items() if not (began and name == fact.dialog)}
    return _with(
        book,
        values=values,
        rows={**book.rows, **rows},
        roles=roles_known(book.roles, dialog.records, {**fact.values, **rows}) if dialog else book.roles,
        learned=_learned(book, dialog),
        skipped={**book.skipped, fact.dialog: fact.skipped} if began else book.skipped,
        left={**before, fact.dialog: fact.left} if fact.left else before,
    )


def _learned(book: Book, dialog: DialogState | None) -> dict[str, float]:
    return {**book.learned, **(dialog.activity.learned if dialog and dialog.activity else {})}


def _with(model: M, **changes: object) -> M:
    return model.model_copy(update=changes)
