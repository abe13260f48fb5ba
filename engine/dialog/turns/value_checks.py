"""The checks of a slot: whether a value may be kept, and what it means together with the others."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from engine.calculations.catalogue import formulas
from engine.dialog.reply.sentences import fill
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot import Check
from engine.errors import InputError
from engine.values import Value

if TYPE_CHECKING:
    from engine.dialog.turns.turn_builder import TurnBuilder


def look(builder: TurnBuilder, check: Check, value: Value) -> tuple[str | None, dict[str, Value]]:
    """The outcome of a check on a value, and the figures its text may show."""
    found = formulas()[check.formula].evaluate(builder.arguments(check.with_, {}, value))
    shown = {name: found.results[result] for result, name in check.into.items() if result in found.results}
    return found.outcome, cast(dict[str, Value], shown)


def refusal(builder: TurnBuilder, name: str, value: Value) -> str | None:
    """Why a value cannot be kept at all."""
    slot = builder.script.slots[name]
    for check in slot.checks:
        try:
            outcome, shown = look(builder, check, value)
        except InputError:
            return builder.wording.say(SystemKey.CANNOT_USE)
        if outcome in check.refuse:
            values = {**builder.dialog.values, **shown, "this": value}
            return fill(check.refuse[outcome], builder.script, builder.wording, values, slot)
    if builder.script.renames is not None and name == builder.script.renames.old:
        known = builder.state.book.things.kinds_of(str(value))
        return None if known else builder.wording.say(SystemKey.NOT_LISTED, name=str(value))
    return None
