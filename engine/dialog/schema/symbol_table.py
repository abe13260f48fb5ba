"""The names of a script: what each one holds, and where it comes from."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, assert_never

from engine.calculations.catalogue import ValueShape, ValueType
from engine.calculations.formulas import formulas
from engine.data.definitions import Place
from engine.dialog.schema.script import LEFT_OVER, Compute, Preset, Script, Watch
from engine.dialog.schema.script_fault import ScriptFault
from engine.dialog.schema.slot import Slot
from engine.expectation import SlotKind
from engine.quantities import Dimension

RESERVED = frozenset({"this", "run", "row"})
PRESETS = {
    Preset.TOLERANCE: ValueType("measure", frozenset({Dimension.RATIO})),
    Preset.RULE: ValueType("word"),
}


@dataclass(frozen=True)
class SymbolTable:
    """A script with the type of each of its names; ``said`` are those that a person gave, here or earlier.

    ``untyped`` are names from a dialog, a formula or a result that is not there.
    """

    script: Script
    types: Mapping[str, ValueType]
    said: frozenset[str]
    untyped: frozenset[str]

    def is_key(self, name: str) -> bool:
        """Whether a name holds the key of a closed set for which this script has no word a person may read."""
        kind = self.types[name]
        closed = bool(kind.words) or name == Preset.RULE
        return kind.kind == "word" and closed and name not in self.script.slots


@dataclass(frozen=True)
class FormulaOutput:
    """A name that a formula gives, and where the script says so."""

    name: str
    type: ValueType
    place: Place


def scope(script: Script, scripts: Mapping[str, Script]) -> SymbolTable:
    """The scope of a script among the scripts of its library."""
    known = types(script, scripts)
    origin = scripts.get(script.after) if script.after else None
    taken = {*script.takes, *script.may_take} & origin.slots.keys() if origin else set()
    said = frozenset({*script.slots, *script.presets, *taken})
    steps = (step.into for step in script.steps if isinstance(step, Compute | Watch))
    checks = (check.into for slot in script.slots.values() for check in slot.checks)
    into = {name for given in (*steps, *checks) for name in given.values()}
    return SymbolTable(script, known, said, frozenset({*script.takes, *script.may_take, *into}) - known.keys())


def types(script: Script, scripts: Mapping[str, Script], seen: frozenset[str] = frozenset()) -> dict[str, ValueType]:
    """What every name of a script holds: its slots, what it takes or is preset, what its formulas give; nothing is
    taken from a dialog that was ``seen``."""
    found = {name: slot_type(slot) for name, slot in script.slots.items()}
    found |= {preset.value: PRESETS[preset] for preset in script.presets}
    for one in (*computed(script), *looked_up(script)):
        found.setdefault(one.name, one.type)
    origin = scripts.get(script.after) if script.after else None
    if origin and script.dialog not in seen:
        before = types(origin, scripts, seen | {script.dialog})
        found = {**{name: before[name] for name in (*script.takes, *script.may_take) if name in before}, **found}
        known = {**found, **before}
        found |= {name: known[source] for name, source in script.stood.items() if source in known}
    found |= {name: found[origin] for name, origin in script.recalls.items() if origin in found}
    return found


def slot_type(slot: Slot) -> ValueType:
    """What a slot holds, in every row where it is asked per row."""
    shape = ValueShape.ROWS if slot.per_row else ValueShape.ONE
    return ValueType(_kind(slot.kind), frozenset(slot.dimension), shape, slot.optional, tuple(slot.options))


def _kind(kind: SlotKind) -> Literal["measure", "count", "word", "setting", "dial"]:
    match kind:
        case SlotKind.MEASURE:
            return "measure"
        case SlotKind.COUNT:
            return "count"
        case SlotKind.CHOICE | SlotKind.TEXT:
            return "word"
        case SlotKind.SETTING:
            return "setting"
        case SlotKind.DIAL:
            return "dial"
        case _:
            assert_never(kind)


def computed(script: Script) -> Iterator[FormulaOutput]:
    """The names that the compute steps give; those of unknown formulas or results are left out."""
    for number, step in enumerate(script.steps):
        if isinstance(step, Compute):
            yield from _given(step.compute, step.into, ("steps", number, "into"))
        if isinstance(step, Watch):
            yield from _given(LEFT_OVER, step.into, ("steps", number, "into"))


def looked_up(script: Script) -> Iterator[FormulaOutput]:
    """The names that checks give to their own texts."""
    for name, slot in script.slots.items():
        for number, check in enumerate(slot.checks):
            yield from _given(check.formula, check.into, ("slots", name, "checks", number, "into"))


def _given(called: str, into: Mapping[str, str], place: Place) -> Iterator[FormulaOutput]:
    formula = formulas().get(called)
    for result, name in into.items():
        if formula and result in formula.results:
            kind = formula.results[result]
            words = tuple(str(word) for word in kind.words)
            yield FormulaOutput(name, dataclasses.replace(kind, words=words), (*place, result))


def left(script: Script) -> frozenset[str]:
    """The names that a finished dialog may leave to the next."""
    return frozenset(
        {*script.slots, *script.takes, *script.may_take, *script.presets, *(one.name for one in computed(script))}
    )


def name_faults(scope: SymbolTable) -> Iterator[ScriptFault]:
    """Names that mean two things."""
    script = scope.script
    for one in (*computed(script), *looked_up(script)):
        known, origin = scope.types[one.name], _origin(one.name, script)
        if origin:
            yield ScriptFault(one.place, f"{one.name} is {origin} as well", "give the result another name")
        elif dataclasses.replace(one.type, optional=known.optional) != known:
            yield ScriptFault(one.place, f"{one.name} is {known} elsewhere and {one.type} here", "give it another name")
        elif one.name in RESERVED:
            yield ScriptFault(one.place, f"{one.name} has a meaning of its own in texts", "give it another name")
    for name, recalled in script.recalls.items():
        if recalled not in scope.types or scope.types[recalled].shape is not ValueShape.ROWS:
            yield ScriptFault(
                ("recalls", name), f"{recalled} is not a per-row value of this dialog", "name one that is"
            )
    yield from _earlier(scope)
    for name in script.slots:
        if name in {*script.takes, *script.may_take, *script.presets}:
            yield ScriptFault(("slots", name), f"{name} is taken or preset as well", "keep one of them")
        elif name in RESERVED:
            yield ScriptFault(("slots", name), f"{name} has a meaning of its own in texts", "give it another name")


def _earlier(scope: SymbolTable) -> Iterator[ScriptFault]:
    script = scope.script
    for name, source in script.stood.items():
        if name not in scope.types:
            yield ScriptFault(("stood", name), f"nothing called {source} is known", "name a value of the dialog before")
    for name in script.remembers:
        if name not in script.slots or script.slots[name].per_row:
            yield ScriptFault(("remembers",), f"{name} is not a slot with one value", "name slots of this dialog")
    for name in script.carries:
        if name not in script.slots:
            yield ScriptFault(("carries",), f"{name} is not a slot", "name slots of this dialog")


def _origin(name: str, script: Script) -> str | None:
    origins = {
        "a slot": script.slots,
        "taken": (*script.takes, *script.may_take),
        "preset": script.presets,
        "recalled": script.recalls,
        "as it stood": script.stood,
    }
    return next((origin for origin, names in origins.items() if name in names), None)
