"""Steps that go by a closed set: every case covered and none invented; and what a redo carries over."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from engine.calculations.catalogue import ValueShape, ValueType
from engine.data.definitions import Place
from engine.dialog.schema.script import Branch, Collect, Listing, Redo
from engine.dialog.schema.script_fault import ScriptFault, nearest
from engine.dialog.schema.symbol_table import SymbolTable, slot_type


def faults(scope: SymbolTable, number: int) -> Iterator[ScriptFault]:
    """What is wrong with the cases of a branch or a list, the slots of a redo, or the offer of a collect."""
    step, place = scope.script.steps[number], ("steps", number)
    match step:
        case Branch():
            yield from _branch(step, scope, place)
        case Listing():
            yield from _listing(step, scope, place)
        case Redo():
            yield from _carry(step, scope, place)
        case Collect():
            yield from _offer(step, scope, place)
            yield from _spares(step, scope, place)
        case _:
            return


def _branch(step: Branch, scope: SymbolTable, place: Place) -> Iterator[ScriptFault]:
    found = scope.types.get(step.branch)
    if found is None:
        return
    if found.kind != "word" or found.shape is not ValueShape.ONE or not found.words:
        wrong = f"{step.branch} is {found}, not one word of a closed set"
        yield ScriptFault((*place, "branch"), wrong, "name a choice")
    else:
        yield from _covered(tuple(step.cases), found.words, (*place, "cases"))


def _listing(step: Listing, scope: SymbolTable, place: Place) -> Iterator[ScriptFault]:
    found = scope.types.get(step.list_)
    if found is None:
        return
    if found.kind != "word" or found.shape is not ValueShape.ROWS or not found.words:
        wrong = f"{step.list_} is {found}, not one word of a closed set for each row"
        yield ScriptFault((*place, "list"), wrong, "name a per-row choice or verdict")
    else:
        yield from _covered((*step.each, *step.silent), found.words, (*place, "each"))
        if step.aloud:
            yield from _covered((*step.aloud, *step.silent), found.words, (*place, "aloud"))
        for case in step.rest:
            if case not in step.aloud:
                yield ScriptFault((*place, "rest", case), f"{case} is not said aloud", "add it to aloud")


def _covered(cases: Sequence[str], words: Sequence[str], place: Place) -> Iterator[ScriptFault]:
    for word in words:
        if word not in cases:
            yield ScriptFault(place, f"{word} is not covered", f"add {word}")
    for case in cases:
        if case not in words:
            yield ScriptFault((*place, case), f"{case} never happens", nearest(case, words, f"use {', '.join(words)}"))


def _carry(step: Redo, scope: SymbolTable, place: Place) -> Iterator[ScriptFault]:
    for name, source in step.carry.items():
        slot, found, where = scope.script.slots.get(name), scope.types.get(source), (*place, "carry", name)
        if slot is None or not slot.per_row:
            yield ScriptFault(where, f"{name} is not a slot that is asked per row", "carry into per-row slots only")
        elif found and not _fits(slot_type(slot), found):
            yield ScriptFault(
                where, f"{name} is {slot_type(slot)}, but {source} is {found}", "carry a value of its kind"
            )


def _offer(step: Collect, scope: SymbolTable, place: Place) -> Iterator[ScriptFault]:
    slot, found = scope.script.slots.get(step.collect), scope.types.get(step.offer or "")
    if slot and found and not _fits(slot_type(slot), found):
        wrong = f"{step.collect} is {slot_type(slot)}, but {step.offer} is {found}"
        yield ScriptFault((*place, "offer"), wrong, "offer values of its kind")


def _spares(step: Collect, scope: SymbolTable, place: Place) -> Iterator[ScriptFault]:
    for name, word in step.spares.items():
        found, where = scope.types.get(name), (*place, "spares", name)
        if found is None:
            yield ScriptFault(where, f"nothing is called {name}", nearest(name, scope.types, "name a per-row word"))
        elif found.kind != "word" or found.shape is not ValueShape.ROWS or word not in found.words:
            yield ScriptFault(where, f"{name} is {found}, never {word} in a row", "name a per-row word of a closed set")


def _fits(wanted: ValueType, found: ValueType) -> bool:
    return wanted.accepts(found) and (not wanted.words or set(found.words or ("",)) <= set(wanted.words))
