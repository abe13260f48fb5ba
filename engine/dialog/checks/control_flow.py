"""The ways through a script: where each step leads, and what is known when it is reached."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from engine.calculations.catalogue import ValueShape, formulas
from engine.data.definitions import Place
from engine.dialog.checks.references import Use, uses
from engine.dialog.schema.script import (
    NEXT,
    Ask,
    Branch,
    Collect,
    Compute,
    Finish,
    Listing,
    Redo,
    Refuse,
    Say,
    Script,
    Watch,
    asks,
)
from engine.dialog.schema.script_fault import ScriptFault, nearest
from engine.dialog.schema.symbol_table import SymbolTable


@dataclass(frozen=True)
class Jump:
    """One way out of a step, where the script says so, and the outcome that takes it."""

    target: str
    place: Place
    outcome: str | None = None


@dataclass(frozen=True)
class Known:
    """Names with a value on every way to a step, and names that may have one: met on some way to it.

    An optional slot that is asked per row has a value: rows may be missing in it. What a collect step spares comes
    from the run before, and so may be known from there on.
    """

    given: frozenset[str]
    met: frozenset[str]

    def meet(self, other: Known) -> Known:
        return Known(self.given & other.given, self.met | other.met)


def jumps(script: Script, number: int) -> tuple[Jump, ...]:
    """The ways out of a step; none of a finish, a refusal or a redo."""
    step, place = script.steps[number], ("steps", number)
    match step:
        case Finish() | Refuse() | Redo():
            return ()
        case Branch(branch=_, cases=cases):
            return tuple(Jump(target, (*place, "cases", case)) for case, target in cases.items())
        case Compute(then=dict(cases)):
            return tuple(Jump(target, (*place, "then", case), case) for case, target in cases.items())
        case Say(then=then) | Ask(then=then) | Collect(then=then) | Listing(then=then) | Watch(then=then):
            return (Jump(then, (*place, "then") if then != NEXT else place),)
        case _:
            return (Jump(NEXT, place),)


def successors(script: Script, number: int) -> tuple[int, ...]:
    """The steps that a step leads to; wrong jumps are left out."""
    return tuple(target for _, target in _ahead(script, number))


def _ahead(script: Script, number: int) -> Iterator[tuple[Jump, int]]:
    for jump in jumps(script, number):
        target = number + 1 if jump.target == NEXT else script.places.get(jump.target, 0)
        if number < target < len(script.steps):
            yield jump, target


def reached(script: Script, start: int = 0) -> frozenset[int]:
    """The steps that can be reached from a step, itself among them."""
    found = {start}
    for number in range(start, len(script.steps)):
        if number in found:
            found |= set(successors(script, number))
    return frozenset(found)


def shape_faults(script: Script) -> Iterator[ScriptFault]:
    """Jumps to nowhere or backwards, steps that are never reached, ways that never end."""
    yield from _ids(script)
    for number in range(len(script.steps)):
        for jump in jumps(script, number):
            yield from _jump(script, number, jump)
        yield from _redo(script, number)
    reachable = reached(script)
    for number in range(len(script.steps)):
        if number not in reachable:
            yield ScriptFault(("steps", number), "no way leads to this step", "jump to it or remove it")
    if not _ends(script, 0):
        yield ScriptFault(("steps",), "no way reaches a finish", "end with a finish step")


def _ids(script: Script) -> Iterator[ScriptFault]:
    seen: set[str] = set()
    for number, step in enumerate(script.steps):
        name = script.step_id(number)
        place = ("steps", number, "id") if step.id else ("steps", number)
        if name in seen:
            yield ScriptFault(place, f"two steps are called {name}", "give one of them another id")
        elif name == NEXT:
            yield ScriptFault(place, f"{NEXT} means the following step", "give the step another id")
        seen.add(name)


def _jump(script: Script, number: int, jump: Jump) -> Iterator[ScriptFault]:
    named = {step.id: at for at, step in enumerate(script.steps) if step.id}
    if jump.target == NEXT:
        if number + 1 == len(script.steps):
            yield ScriptFault(jump.place, "the dialog runs off its end here", "end with a finish step")
    elif jump.target not in named:
        mend = nearest(jump.target, named, "give that id to the step that is meant")
        yield ScriptFault(jump.place, f"there is no step {jump.target}", mend)
    elif named[jump.target] <= number:
        yield ScriptFault(jump.place, f"{jump.target} does not lie ahead", "jump forward; only redo goes back")


def _redo(script: Script, number: int) -> Iterator[ScriptFault]:
    step, place = script.steps[number], ("steps", number, "redo")
    if not isinstance(step, Redo):
        return
    named = {one.id: at for at, one in enumerate(script.steps) if one.id}
    target = named.get(step.redo)
    if target is None:
        yield ScriptFault(
            place, f"there is no step {step.redo}", nearest(step.redo, named, "name an ask or collect step")
        )
    elif target >= number:
        yield ScriptFault(place, f"{step.redo} does not lie behind", "redo an earlier ask or collect step")
    elif not isinstance(script.steps[target], Ask | Collect):
        yield ScriptFault(place, f"{step.redo} asks for nothing", "redo an earlier ask or collect step")
    elif not _ends(script, target):
        yield ScriptFault(place, f"no way from {step.redo} reaches a finish", "give it a way out")


def _ends(script: Script, start: int) -> bool:
    return any(isinstance(script.steps[number], Finish) for number in reached(script, start))


def known_before(scope: SymbolTable) -> dict[int, Known]:
    """What is known when each step that can be reached is reached for the first time."""
    script = scope.script
    start = frozenset({*script.takes, *script.presets})
    before = {0: Known(start, start | {*script.may_take, *script.recalls, *script.stood, *script.remembers})}
    for number in range(len(script.steps)):
        if number in before:
            for jump, target in _ahead(script, number):
                after = _after(script, number, before[number], jump.outcome)
                before[target] = before[target].meet(after) if target in before else after
    return before


def _after(script: Script, number: int, known: Known, outcome: str | None) -> Known:
    step = script.steps[number]
    met = {slot for slot in asks(step) if slot in script.slots}
    given = {slot for slot in met if script.slots[slot].per_row or not script.slots[slot].optional}
    if isinstance(step, Collect):
        met |= set(step.spares)
    if isinstance(step, Watch):
        met |= set(step.into.values())
        given |= met
    if isinstance(step, Compute):
        formula = formulas().get(step.compute)
        lacking = formula.may_lack(outcome) if formula else frozenset()
        met |= set(step.into.values())
        given |= {name for result, name in step.into.items() if result not in lacking}
    return Known(known.given | given, known.met | met)


def knowledge_faults(scope: SymbolTable) -> Iterator[ScriptFault]:
    """Names that are used before every way has given them a value."""
    for number, known in known_before(scope).items():
        for use in uses(scope.script, number):
            yield from _unknown(scope, use, known)
        yield from _forgotten(scope, number)


def _unknown(scope: SymbolTable, use: Use, known: Known) -> Iterator[ScriptFault]:
    if use.name not in scope.types and use.name not in scope.untyped:
        mend = nearest(use.name, scope.types, "ask it, compute it or take it")
        yield ScriptFault(use.place, f"nothing is called {use.name}", mend)
    elif use.name not in known.met:
        yield ScriptFault(use.place, f"{use.name} is not known yet", "ask or compute it before")
    elif use.name not in known.given and not use.optional:
        yield ScriptFault(
            use.place, f"{use.name} is not known on every way here", "ask or compute it before, on every way"
        )


def _forgotten(scope: SymbolTable, number: int) -> Iterator[ScriptFault]:
    """What a redo clears although the steps it goes back to still need it."""
    script, step = scope.script, scope.script.steps[number]
    target = script.places.get(step.redo, number) if isinstance(step, Redo) else number
    if not isinstance(step, Redo) or target >= number:
        return
    before = known_before(scope)
    kept = {name for name in before[number].given if not _is_cleared(scope, name, target)} | step.carry.keys()
    needed = {use.name for later in reached(script, target) for use in uses(script, later) if not use.optional}
    for name in sorted((before[target].given & needed) - kept if target in before else ()):
        wrong = f"{name} is known when {step.redo} is first reached, but not after this redo"
        yield ScriptFault(("steps", number, "redo"), wrong, f"carry it, or ask it at {step.redo}")


def _is_cleared(scope: SymbolTable, name: str, target: int) -> bool:
    kind = scope.types.get(name)
    if kind and kind.shape is not ValueShape.ONE:
        return True
    return any(name in asks(step) for step in scope.script.steps[target:])
