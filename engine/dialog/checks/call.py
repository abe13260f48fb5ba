"""A formula called from a script: its arguments, results and outcomes against the catalogue."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from engine.calculations.catalogue import Formula, ValueShape, ValueType, formulas
from engine.data.definitions import Place
from engine.dialog.schema.script import Compute, Preset
from engine.dialog.schema.script_fault import ScriptFault, nearest
from engine.dialog.schema.slot import Check
from engine.dialog.schema.symbol_table import SymbolTable, slot_type

THIS = "this"


@dataclass(frozen=True)
class Call:
    """One use of a formula; ``key`` is the word that names the formula there."""

    place: Place
    key: str
    formula: str
    with_: Mapping[str, str]
    into: Mapping[str, str]
    runs: Mapping[str, str] = field(default_factory=dict)


def step_faults(step: Compute, place: Place, scope: SymbolTable) -> Iterator[ScriptFault]:
    """What is wrong with the formula of a compute step."""
    call = Call(place, "compute", step.compute, step.with_, step.into, step.runs)
    yield from _faults(call, scope.types)
    formula = formulas().get(step.compute)
    if formula:
        yield from _uncovered(step, place, formula)


def _uncovered(step: Compute, place: Place, formula: Formula) -> Iterator[ScriptFault]:
    cases = step.then or {}
    if not formula.outcomes and step.then is not None:
        yield ScriptFault((*place, "then"), f"{formula.name} has no outcomes", "remove then; jump from another step")
        return
    for outcome in formula.outcomes:
        if outcome not in cases:
            where = (*place, "then") if step.then is not None else place
            yield ScriptFault(where, f"the outcome {outcome} leads nowhere", f"add {outcome} under then")
    for case in cases.keys() - set(formula.outcomes):
        mend = nearest(case, formula.outcomes, f"use {', '.join(formula.outcomes)}")
        yield ScriptFault((*place, "then", case), f"{case} is not an outcome of {formula.name}", mend)


def check_faults(check: Check, name: str, place: Place, scope: SymbolTable) -> Iterator[ScriptFault]:
    """What is wrong with the formula of a slot's check."""
    given = dataclasses.replace(slot_type(scope.script.slots[name]), shape=ValueShape.ONE)
    yield from _faults(Call(place, "formula", check.formula, check.with_, check.into), {**scope.types, THIS: given})
    if THIS not in check.with_.values():
        yield ScriptFault((*place, "with"), "the check does not look at the value given", "pass this to an argument")
    formula = formulas().get(check.formula)
    if formula:
        yield from _unknown_outcomes(check, place, formula)


def _unknown_outcomes(check: Check, place: Place, formula: Formula) -> Iterator[ScriptFault]:
    if not check.refuse and not check.confirm:
        yield ScriptFault(
            place, "the check neither refuses nor confirms anything", "add refuse or confirm, or remove it"
        )
    for key, cases in (("refuse", check.refuse), ("confirm", check.confirm)):
        for case in cases:
            if case not in formula.outcomes:
                mend = nearest(case, formula.outcomes, f"use {', '.join(formula.outcomes) or 'another formula'}")
                yield ScriptFault((*place, key, case), f"{case} is not an outcome of {formula.name}", mend)
    for case in check.refuse.keys() & check.confirm.keys():
        yield ScriptFault((*place, "confirm", case), f"{case} is refused as well", "keep one of them")


def _faults(call: Call, types: Mapping[str, ValueType]) -> Iterator[ScriptFault]:
    formula = formulas().get(call.formula)
    if formula is None:
        mend = nearest(call.formula, formulas(), "name a formula of the catalogue")
        yield ScriptFault((*call.place, call.key), f"there is no formula {call.formula}", mend)
        return
    yield from _missing(call, formula)
    for argument, name in call.with_.items():
        yield from _argument(formula, argument, name, types.get(name), (*call.place, "with", argument))
    for argument, name in call.runs.items():
        yield from _argument(formula, argument, name, _of_runs(types.get(name)), (*call.place, "runs", argument))
    yield from _results(call, formula)


def _missing(call: Call, formula: Formula) -> Iterator[ScriptFault]:
    for argument, wanted in formula.inputs.items():
        key = "runs" if wanted.shape is ValueShape.RUNS else "with"
        if argument in call.with_ and argument in call.runs:
            yield ScriptFault(
                (*call.place, "runs", argument), f"{argument} is also given under with", "keep one of them"
            )
        elif argument not in call.with_ and argument not in call.runs and not wanted.optional:
            yield ScriptFault(
                (*call.place, call.key), f"{formula.name} needs {argument} ({wanted})", f"add it under {key}"
            )


def _argument(
    formula: Formula, argument: str, name: str, found: ValueType | None, place: Place
) -> Iterator[ScriptFault]:
    wanted = formula.inputs.get(argument)
    if wanted is None:
        mend = nearest(argument, formula.inputs, f"use {', '.join(formula.inputs)}")
        yield ScriptFault(place, f"{formula.name} has no argument {argument}", mend)
    elif found and not wanted.accepts(found):
        yield ScriptFault(place, f"{argument} is {wanted}, but {name} is {found}", "pass another name")
    elif found and wanted.words and name != Preset.RULE and not set(found.words or ("",)) <= set(wanted.words):
        yield ScriptFault(
            place, f"{name} may hold a word that {argument} does not know", f"use {', '.join(wanted.words)}"
        )


def _of_runs(found: ValueType | None) -> ValueType | None:
    if found is None or found.shape is not ValueShape.ROWS:
        return found
    return dataclasses.replace(found, shape=ValueShape.RUNS)


def _results(call: Call, formula: Formula) -> Iterator[ScriptFault]:
    named: set[str] = set()
    for result, name in call.into.items():
        place = (*call.place, "into", result)
        if result not in formula.results:
            mend = nearest(result, formula.results, f"use {', '.join(formula.results) or 'another formula'}")
            yield ScriptFault(place, f"{formula.name} gives no {result}", mend)
        elif name in named:
            yield ScriptFault(place, f"{name} is another result of this step", "give it another name")
        named.add(name)
