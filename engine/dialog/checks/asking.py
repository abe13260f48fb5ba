"""The slots of a script: that each is asked, in the right kind of step, within ranges that make sense."""

from __future__ import annotations

from collections.abc import Iterator

from engine.calculations.catalogue import ValueShape, ValueType
from engine.data.definitions import Place
from engine.dialog.schema.script import Ask, Collect, Script, asks
from engine.dialog.schema.script_fault import ScriptFault, nearest
from engine.dialog.schema.slot import Slot
from engine.dialog.schema.symbol_table import SymbolTable, slot_type
from engine.errors import WrongDimension
from engine.expectation import Range, SlotKind
from engine.quantities import Measure


def faults(scope: SymbolTable) -> Iterator[ScriptFault]:
    """What is wrong with the slots and the steps that ask them."""
    script = scope.script
    for number in range(len(script.steps)):
        yield from _asked(script, number)
    yield from _rows(scope)
    for name, slot in script.slots.items():
        if name not in script.asked_at:
            yield ScriptFault(("slots", name), f"no step asks {name}", "ask it or remove it")
        yield from _dial(scope, name, slot)
        yield from _around(scope, name, slot)
        yield from _ranges(slot, ("slots", name))


def _asked(script: Script, number: int) -> Iterator[ScriptFault]:
    step = script.steps[number]
    for slot, place in zip(asks(step), _places(script, number), strict=True):
        if slot not in script.slots:
            yield ScriptFault(place, f"there is no slot {slot}", nearest(slot, script.slots, "add it under slots"))
        elif isinstance(step, Ask) and script.slots[slot].per_row:
            yield ScriptFault(place, f"{slot} is asked per row", "collect it")
        elif isinstance(step, Collect) and slot == step.collect and not script.slots[slot].per_row:
            yield ScriptFault(place, f"{slot} is not asked per row", "ask it, or set per_row")


def _places(script: Script, number: int) -> tuple[Place, ...]:
    step, place = script.steps[number], ("steps", number)
    match step:
        case Ask():
            return ((*place, "ask"),)
        case Collect(also=also):
            return ((*place, "collect"), *((*place, "also", index) for index in range(len(also))))
        case _:
            return ()


def _rows(scope: SymbolTable) -> Iterator[ScriptFault]:
    script = scope.script
    if script.rows is None:
        if any(slot.per_row for slot in script.slots.values()):
            yield ScriptFault((), "something is asked per row, but nothing says how many rows there are", "set rows")
        return
    found = scope.types.get(script.rows)
    if script.rows in scope.untyped:
        return
    if found is None or script.rows not in {*script.slots, *script.takes}:
        mend = nearest(script.rows, (*script.slots, *script.takes), "name a slot or something taken")
        yield ScriptFault(("rows",), f"{script.rows} is neither a slot nor taken", mend)
    elif found.kind != "count" or found.shape is not ValueShape.ONE:
        yield ScriptFault(("rows",), f"{script.rows} is {found}, not one count", "name the count of rows")


def _dial(scope: SymbolTable, name: str, slot: Slot) -> Iterator[ScriptFault]:
    found = scope.types.get(slot.dial) if slot.dial else None
    if found and not ValueType("dial").accepts(found):
        yield ScriptFault(("slots", name, "dial"), f"{slot.dial} is {found}, not a dial", "name a dial")


def _around(scope: SymbolTable, name: str, slot: Slot) -> Iterator[ScriptFault]:
    found = scope.types.get(slot.around.value) if slot.around else None
    place = ("slots", name, "around")
    if slot.around and slot.kind is not SlotKind.MEASURE:
        yield ScriptFault(place, "only a measure has a range around a value", "remove it")
    elif slot.around and found and not (found.kind == "measure" and found.shape is ValueShape.ONE):
        yield ScriptFault((*place, "value"), f"{slot.around.value} is {found}, not one measure", "name a measure")
    elif slot.around and found and not found.dimensions <= frozenset(slot.dimension):
        wrong = f"{slot.around.value} is {found}, but {name} is {slot_type(slot)}"
        yield ScriptFault((*place, "value"), wrong, "name a measure of the same kind")


def _ranges(slot: Slot, place: Place) -> Iterator[ScriptFault]:
    for key, limits in (("hard", slot.hard), ("usual", slot.usual)):
        if limits and slot.kind not in (SlotKind.MEASURE, SlotKind.COUNT):
            yield ScriptFault((*place, key), f"a {slot.kind} has no range", "remove it")
        elif limits and slot.kind is SlotKind.MEASURE and limits.unit is None:
            yield ScriptFault((*place, key), "the range of a measure needs units", "write a unit after each number")
    if slot.hard and slot.usual and bool(slot.hard.unit) == bool(slot.usual.unit):
        yield from _contained(slot.hard, slot.usual, (*place, "usual"))


def _contained(hard: Range, usual: Range, place: Place) -> Iterator[ScriptFault]:
    try:
        low, high = _end(usual.low, usual, hard), _end(usual.high, usual, hard)
    except WrongDimension:
        yield ScriptFault(
            place, "the usual and the hard range measure different things", "write both in one kind of unit"
        )
        return
    slack = 1e-9 * max(abs(hard.low), abs(hard.high))
    if low < hard.low - slack or high > hard.high + slack:
        yield ScriptFault(place, "the usual range leaves the hard one", "keep it inside")


def _end(value: float, usual: Range, hard: Range) -> float:
    if usual.unit is None or hard.unit is None:
        return value
    return Measure(value=value, unit=usual.unit).to(hard.unit).value
