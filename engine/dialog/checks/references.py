"""Where a script uses a name, and so must know it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from engine.calculations.catalogue import formulas
from engine.data.definitions import Place
from engine.dialog.checks.placeholders import THIS, mentions
from engine.dialog.schema.script import Branch, Collect, Compute, Listing, Redo, Script, Watch, asks
from engine.dialog.schema.slot import Slot
from engine.dialog.schema.slot_roles import ACTIVITIES, Requirements, names_in


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
