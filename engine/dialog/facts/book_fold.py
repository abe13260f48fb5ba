"""The fold of the book of a conversation: what it knows after each fact that is about more than one dialog."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import reduce
from typing import TypeVar, assert_never

from engine.dialog.facts.book import Book, Ended, roles_known, worth_keeping
from engine.dialog.facts.book_facts import (
    Alarmed,
    Cautioned,
    Documented,
    HoppersLeft,
    Registered,
    Renamed,
    RepairDropped,
    RowsRepaired,
    Stocked,
)
from engine.dialog.facts.events import BookFact, Cancelled, Finished
from engine.dialog.facts.neighbours import FarmEntry, FarmTold, neighbours_after
from engine.dialog.facts.role_values import as_word
from engine.dialog.facts.state import DialogState
from engine.dialog.facts.stock_facts import Lockup, Stock
from engine.dialog.facts.yearbook import YEARS_KEPT, PastCalibration, Repair, past_calibration
from engine.dialog.schema.slot_roles import EQUIPMENT, Phase, Role, holds, name_in
from engine.messages import Message
from engine.quantities import Measure
from engine.values import Rows, Value

M = TypeVar("M", bound=Message)


def noted(book: Book, fact: BookFact) -> Book:
    """The book after a fact that holds outside a dialog as well."""
    match fact:
        case Registered(thing=thing, name=name, values=values):
            return replaced(book, things=book.things.noting(thing, name, values))
        case Renamed(thing=thing, name=name, to=to):
            return book.renaming(thing, name, to)
        case Documented(thing=thing, name=name, document=document):
            return replaced(book, things=book.things.documenting(thing, name, document))
        case Stocked() | HoppersLeft():
            return replaced(book, stock=_moved(book.stock, fact))
        case Cautioned(at=at):
            return replaced(book, cautioned=at)
        case Alarmed():
            return book
        case RowsRepaired(rows=rows, said=said, at=at):
            return book.repaired(Repair(rows=rows, said=said, at=at))
        case RepairDropped(rows=rows):
            return book.not_repaired(rows)
        case FarmTold(told=told):
            there = reduce(_told_there, told, book)
            return replaced(there, neighbours=neighbours_after(there.neighbours, fact))
        case _:
            assert_never(fact)


def _still(book: Book, dialog: DialogState) -> dict[str, Value]:
    """The values known before that a dialog which ends leaves as they are."""
    if dialog.phase is not Phase.SET_UP:
        return book.values
    gone = {name_in(dialog.records, role) for role in EQUIPMENT} | {book.roles.get(role) for role in EQUIPMENT}
    return {name: value for name, value in book.values.items() if name not in gone}


def _told_there(book: Book, entry: FarmEntry) -> Book:
    """The book after something that another planter of the farm told."""
    match entry.fact:
        case Registered(thing=thing, name=name, values=values):
            return replaced(book, things=book.things.noting(thing, name, values, here=False))
        case Renamed(thing=thing, name=name, to=to):
            return book.renaming(thing, name, to, here=False)
        case Documented(thing=thing, name=name, document=document):
            return replaced(book, things=book.things.documenting(thing, name, document))
        case _:
            assert_never(entry.fact)


def learned(book: Book, dialog: DialogState, fact: Finished) -> Book:
    """The book after a dialog that reached its end."""
    if dialog.phase in (Phase.REGISTER, Phase.DELIVERY, Phase.RECORD):
        return replaced(book, finished={**book.finished, dialog.dialog: dialog.script})
    values = {**_still(book, dialog), **dialog.values}
    runs = (*dialog.runs, dialog.rows)
    before = tuple(one for one in book.ended if not (dialog.fresh and one.dialog == dialog.dialog))
    ended = (
        (*before, Ended(dialog=dialog.dialog, values=values, runs=runs, records=dialog.records))
        if any(runs)
        else before
    )
    rows, stands = {**book.rows, **dialog.last_rows}, _handled(values, dialog)
    return replaced(
        book,
        values=stands,
        rows=rows,
        roles=roles_known(book.roles, dialog.records, {**stands, **rows}),
        finished={**book.finished, dialog.dialog: dialog.script},
        ended=worth_keeping(ended),
        learned=_numbers(book, dialog),
        skipped={**book.skipped, dialog.dialog: fact.skipped},
        times={**book.times, dialog.dialog: book.times.get(dialog.dialog, 0) + 1},
        stock=_locked_up(book.stock, dialog, fact),
        past=(*book.past, *_calibrated(dialog, runs, fact))[-YEARS_KEPT:],
        left={name: one for name, one in book.left.items() if name != dialog.dialog},
    )


def _handled(values: dict[str, Value], dialog: DialogState | None) -> dict[str, Value]:
    """The values with the product that was handled last in an activity that ends; without any where it was another one
    that nobody named."""
    name = name_in(dialog.records, Role.PRODUCT) if dialog and dialog.activity else None
    if name is None or dialog is None or dialog.activity is None:
        return values
    planned = as_word(dialog.of(Role.PRODUCT))
    product = dialog.activity.product(planned)
    if product == planned:
        return values
    others = {key: value for key, value in values.items() if key != name}
    return others if product is None else {**others, name: product}


def _locked_up(stock: Stock, dialog: DialogState, fact: Finished) -> Stock:
    """The stock with where it is under lock now; what is not locked up lies nowhere."""
    if dialog.phase is not Phase.STORAGE or fact.at is None:
        return stock
    locked = holds(dialog.records, Role.LOCKED, dialog.values) is True
    store, by = as_word(dialog.of(Role.STORE)), as_word(dialog.of(Role.LOCKED_BY))
    return replaced(stock, lockup=Lockup(at=fact.at, store=store, locked_by=by) if locked else None)


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


def left(book: Book, dialog: DialogState | None, fact: Cancelled) -> Book:
    """The book after a dialog that was left: its per-row values stay known, on top of those known before."""
    newest = dialog.last_rows if dialog else {}
    rows = {name: {**book.rows.get(name, {}), **rows} for name, rows in newest.items()}
    values, told = (_handled(one, dialog) for one in ({**book.values, **fact.values}, fact.values))
    began = dialog is not None and dialog.activity is not None
    before = {name: one for name, one in book.left.items() if not (began and name == fact.dialog)}
    return replaced(
        book,
        values=values,
        rows={**book.rows, **rows},
        roles=roles_known(book.roles, dialog.records, {**told, **rows}) if dialog else book.roles,
        learned=_numbers(book, dialog),
        skipped={**book.skipped, fact.dialog: fact.skipped} if began else book.skipped,
        left={**before, fact.dialog: fact.left} if fact.left else before,
    )


def _numbers(book: Book, dialog: DialogState | None) -> dict[str, float]:
    return {**book.learned, **(dialog.activity.learned if dialog and dialog.activity else {})}


def replaced(model: M, **changes: object) -> M:
    """A copy with these fields changed."""
    return model.model_copy(update=changes)


def applied(book: Book, dialog: DialogState) -> Book:
    """The book with what the dialog that ends says of what was applied."""
    put_back = dialog.of(Role.PUT_BACK) if dialog.phase is Phase.STORAGE else None
    if isinstance(put_back, Measure):
        return book.having_put_back(put_back)
    if dialog.applied is not None:
        told = {role: dialog.of(role) for role in (Role.FIELD, Role.PRODUCT, Role.TOTAL)}
        values = {role: value for role, value in told.items() if value is not None and not isinstance(value, dict)}
        return book.having_told(dialog.applied, values)
    return book.having_applied(dialog.activity)
