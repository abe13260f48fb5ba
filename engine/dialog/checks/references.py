"""Where a script uses a name, and so must know it: in its steps, and in the braces of its texts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from engine.calculations.catalogue import ValueShape, formulas
from engine.data.definitions import Place
from engine.data.texts import Text
from engine.dialog.schema.script import (
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
from engine.dialog.schema.script_fault import ScriptFault
from engine.dialog.schema.slot import Check, Slot
from engine.dialog.schema.slot_roles import ACTIVITIES, Requirements, names_in
from engine.dialog.schema.symbol_table import SymbolTable
from engine.quantities import UNITS

RUN, ROW, ROWS, THIS, LAST = "run", "row", "rows", "this", "last"


# ---------------------------------------------------------------- in texts


@dataclass(frozen=True)
class Mention:
    """A text and where it stands: names in ``own`` come with it, ``per_row`` ones may stand in it."""

    text: Text
    place: Place
    own: frozenset[str] = frozenset({RUN})
    per_row: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """Names that the script must know where the text is said."""
        return tuple(sorted(self.text.names - self.own))


def mentions(script: Script, number: int) -> Iterator[Mention]:
    """The texts said at a step, with those of the slots it asks."""
    step, place = script.steps[number], ("steps", number)
    match step:
        case Say(say=text):
            yield Mention(text, (*place, "say"))
        case Finish(finish=text):
            yield Mention(text, (*place, "finish"))
        case Refuse(refuse=text):
            yield Mention(text, (*place, "refuse"))
        case Listing():
            if step.title:
                yield Mention(step.title, (*place, "title"))
            for key, texts in _of_list(step).items():
                yield from (_of_row(text, (*place, key, case)) for case, text in texts.items())
            yield from (Mention(text, (*place, "rest", case)) for case, text in step.rest.items())
        case _:
            if isinstance(step, Collect) and step.offered:
                yield Mention(step.offered, (*place, "offered"))
            if isinstance(step, Ask) and step.offered:
                yield Mention(step.offered, (*place, "offered"), frozenset({LAST}))
            for slot in asks(step):
                if slot in script.slots:
                    yield from _said_of(script.slots[slot], ("slots", slot))


def _of_list(step: Listing) -> dict[str, dict[str, Text]]:
    """The texts of a list that name rows."""
    return {"each": step.each, "aloud": step.aloud}


def _of_row(text: Text, place: Place) -> Mention:
    return Mention(text, place, frozenset({RUN, ROW, ROWS}), per_row=bool(text.names & {ROW, ROWS}))


def _said_of(slot: Slot, place: Place) -> Iterator[Mention]:
    yield Mention(slot.ask, (*place, "ask"))
    if slot.hint:
        yield Mention(slot.hint, (*place, "hint"))
    for number, check in enumerate(slot.checks):
        yield from _of_check(check, (*place, "checks", number))


def _of_check(check: Check, place: Place) -> Iterator[Mention]:
    own = frozenset({THIS, *check.into.values()})
    for key, cases in (("refuse", check.refuse), ("confirm", check.confirm)):
        for case, text in cases.items():
            yield Mention(text, (*place, key, case), own)


def step_faults(scope: SymbolTable, number: int) -> Iterator[ScriptFault]:
    """Names in the texts of a step that cannot be shown there."""
    for mention in mentions(scope.script, number):
        for name in sorted(mention.text.names - {RUN, ROW, THIS, LAST} - (mention.own & {ROWS})):
            yield from _shown(name, mention, scope)
    step = scope.script.steps[number]
    if isinstance(step, Listing):
        for key, texts in _of_list(step).items():
            for case, text in texts.items():
                yield from _row_or_rows(text, ("steps", number, key, case))


def _row_or_rows(text: Text, place: Place) -> Iterator[ScriptFault]:
    if not text.names & {ROW, ROWS}:
        yield ScriptFault(place, "the text does not say which row", "put {row} or {rows} into it")
    elif {ROW, ROWS} <= text.names:
        yield ScriptFault(place, "{row} and {rows} stand in one text", "keep one of them")


def _shown(name: str, mention: Mention, scope: SymbolTable) -> Iterator[ScriptFault]:
    kind, place = scope.types.get(name), mention.place
    if kind is None:
        return
    if kind.shape is not ValueShape.ONE and not mention.per_row:
        yield ScriptFault(
            place, f"{{{name}}} is one value for each row", "show it in a list step, in a text with {row} or {rows}"
        )
    elif kind.shape is not ValueShape.ONE and name in scope.script.slots and kind.optional:
        yield ScriptFault(place, f"{{{name}}} may be without a value in this row", "show something that every row has")
    elif kind.kind == "measure" and name not in scope.said | scope.script.results.keys():
        yield ScriptFault(place, f"{{{name}}} has no units to be shown in", f"declare {name} under results")
    elif scope.is_key(name):
        yield ScriptFault(
            place, f"{{{name}}} is a formula's key, not a word for a person", "say it with a text of its own"
        )


def plain_faults(script: Script) -> Iterator[ScriptFault]:
    """Texts that are said anywhere and so can name nothing."""
    for text, place in _plain(script):
        for name in sorted(text.names):
            yield ScriptFault(place, f"{{{name}}} cannot stand in this text", "say it without a value")


def _plain(script: Script) -> Iterator[tuple[Text, Place]]:
    yield script.about, ("about",)
    if script.otherwise:
        yield script.otherwise, ("otherwise",)
    for name, slot in script.slots.items():
        yield slot.name, ("slots", name, "name")
        for key, option in slot.options.items():
            yield option.label, ("slots", name, "options", key, "label")
    for name, result in script.results.items():
        yield result.name, ("results", name, "name")


def result_faults(scope: SymbolTable) -> Iterator[ScriptFault]:
    """Declared results that no formula gives, or with units of something else."""
    for name, result in scope.script.results.items():
        kind, place = scope.types.get(name), ("results", name)
        if name in scope.untyped:
            continue
        if kind is None or name in scope.script.slots:
            wrong = f"{name} is a slot" if kind else f"nothing gives {name}"
            yield ScriptFault(place, wrong, "remove it" if kind else "compute or take it, or remove it")
        elif kind.kind != "measure":
            yield ScriptFault(place, f"{name} is a {kind.kind} and has no units", "remove it: it is shown as it is")
        else:
            for system, symbol in (("us", result.shown.us), ("metric", result.shown.metric)):
                if UNITS[symbol].dimension not in kind.dimensions:
                    yield ScriptFault(
                        (*place, "shown", system), f"{symbol} is not a unit of {kind}", "name one that is"
                    )


# ---------------------------------------------------------------- in steps and texts


@dataclass(frozen=True)
class Use:
    """A name at a place; ``optional`` where it may be without a value."""

    name: str
    place: Place
    optional: bool = False


def uses(script: Script, number: int) -> Iterator[Use]:
    """Every name that must be known before a step is taken."""
    yield from _of_step(script, number)
    for slot in asks(script.steps[number]):
        if slot in script.slots:
            yield from _of_slot(script.slots[slot], ("slots", slot))
    for mention in mentions(script, number):
        yield from (Use(name, mention.place) for name in mention.names)


def _of_step(script: Script, number: int) -> Iterator[Use]:
    step, place = script.steps[number], ("steps", number)
    match step:
        case Collect(offer=offer) if script.rows:
            yield Use(script.rows, (*place, "collect"))
            yield from (Use(name, (*place, "offer"), optional=True) for name in (offer,) if name)
        case Compute(compute=formula, with_=given, runs=runs):
            yield from _passed(formula, given, (*place, "with"))
            yield from _passed(formula, runs, (*place, "runs"))
        case Branch(branch=name):
            yield Use(name, (*place, "branch"))
        case Listing(list_=name):
            yield Use(name, (*place, "list"))
        case Watch(watch=activity):
            yield from _watched(script, activity)
        case Redo(carry=carry):
            yield from (Use(name, (*place, "carry", slot)) for slot, name in carry.items())
        case _:
            return


def _watched(script: Script, activity: str) -> Iterator[Use]:
    asked = ACTIVITIES.get(activity, Requirements(frozenset()))
    for role, name in names_in(script.records).items():
        if role in asked.needed | asked.welcome:
            yield Use(name, ("records", role), role not in asked.needed)


def _of_slot(slot: Slot, place: Place) -> Iterator[Use]:
    if slot.around:
        yield Use(slot.around.value, (*place, "around", "value"), optional=slot.usual is not None)
    if slot.dial:
        yield Use(slot.dial, (*place, "dial"))
    for number, check in enumerate(slot.checks):
        given = {argument: name for argument, name in check.with_.items() if name != THIS}
        yield from _passed(check.formula, given, (*place, "checks", number, "with"))


def _passed(called: str, given: Mapping[str, str], place: Place) -> Iterator[Use]:
    formula = formulas().get(called)
    inputs = formula.inputs if formula else {}
    for argument, name in given.items():
        yield Use(name, (*place, argument), argument in inputs and inputs[argument].optional)
