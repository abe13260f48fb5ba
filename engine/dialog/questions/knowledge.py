"""What is known by now, from the dialog that is open or those before it, and what is not; what the operator told."""

from __future__ import annotations

from engine.calculations.catalogue import Argument
from engine.calculations.formulas import formulas
from engine.dialog.facts.role_values import as_measure
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.sentences import place
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.script import Preset, Script
from engine.dialog.schema.slot import Result, Slot
from engine.dialog.schema.slot_roles import Role, name_in
from engine.dialog.taking.commands import nothing_open
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.quantities import Measure
from engine.values import Rows, Value

TOLD = (
    *(Role.ROWS, Role.SPACING, Role.PRODUCT, Role.LOT, Role.RATE, Role.LABEL_LOW, Role.LABEL_HIGH, Role.SPEED),
    *(Role.COURSE, Role.TARE, Role.FIELD, Role.FIELD_AREA),
)
"""What is told, in this order."""


def known(builder: TurnBuilder, role: Role) -> Value | Rows | None:
    """A value from the dialog that is open, else from finished ones."""
    dialog = builder.state.dialog
    here = dialog.of(role) if dialog else None
    return builder.state.book.of(role) if here is None else here


def of_rows(builder: TurnBuilder, role: Role) -> Rows:
    """The newest value of each row, from the dialog that is open on top of those before it."""
    dialog, before = builder.state.dialog, builder.state.book.of(role)
    here = dialog.last_rows.get(name_in(dialog.records, role) or "", {}) if dialog else {}
    return {**(before if isinstance(before, dict) else {}), **here}


def measure_of(builder: TurnBuilder, role: Role) -> Measure | None:
    """A measure of a role where it is known."""
    return as_measure(known(builder, role))


def measures(builder: TurnBuilder, *roles: Role) -> tuple[Measure, ...] | None:
    """These values if all are known; says which is not otherwise."""
    found = [measure_of(builder, role) for role in roles]
    missing = [role for role, value in zip(roles, found, strict=True) if value is None]
    if missing:
        say_unknown(builder, missing[0])
        return None
    return tuple(value for value in found if value is not None)


def tolerance(builder: TurnBuilder) -> Measure | None:
    """How far off is still good: as it stood in the last test run, else as the settings have it."""
    return measure_of(builder, Role.TOLERANCE) or as_measure(builder.presets.get(Preset.TOLERANCE))


def described_by(builder: TurnBuilder, role: Role) -> tuple[Script, Slot | Result] | None:
    """The first dialog that asks for a role or works it out, and how it writes it."""
    for script in builder.library.in_order:
        name = name_in(script.records, role) or ""
        found = script.slots.get(name) or script.results.get(name)
        if found is not None:
            return script, found
    return None


def say_unknown(builder: TurnBuilder, role: Role) -> None:
    """That a value is not known yet, and where it will come from."""
    found = described_by(builder, role)
    builder.say(SystemKey.UNKNOWN_YET, name=builder.wording.name(found[1]).lower() if found else str(role))
    dialog = builder.state.dialog
    if found is None or (dialog is not None and dialog.dialog == found[0].dialog):
        builder.say(AnswerKey.COMES_LATER)
    else:
        builder.say(AnswerKey.COMES_FROM, word=found[0].opening(builder.state.language))
    if dialog is None and found is None:
        nothing_open(builder)


def product_needed(rate: Measure, spacing: Measure, area: Measure, rows: int) -> tuple[Measure, Measure]:
    """What an area takes of the product, in all and for each hopper; InputError where that cannot be worked out."""
    arguments: dict[str, Argument] = {"rate": rate, "spacing": spacing, "area": area, "rows": rows}
    results = formulas()["product-needed"].evaluate(arguments).results
    total, each = (one for one in (results["total"], results["per_hopper"]) if isinstance(one, Measure))
    return total, each


def by_value(builder: TurnBuilder, rows: Rows, key: AnswerKey) -> str:
    """Rows with what they hold, those that hold the same together: "rows 1-4 at 17; row 5 at 18"."""
    together: dict[str, list[int]] = {}
    for row in sorted(rows):
        together.setdefault(builder.wording.value(rows[row], None), []).append(row)
    names = {value: builder.wording.row_names(same) for value, same in together.items()}
    return "; ".join(builder.wording.say(key, rows=named, value=value) for value, named in names.items())


# ---------------------------------------------------------------- what the operator told


def say_values(builder: TurnBuilder, slot: str | None, now: dict[Role, Value] | None = None) -> None:
    """What is known of the planter and the job in one line; ``now`` is what has changed since, by role."""
    if slot is not None and builder.state.dialog is not None:
        _say_one(builder, slot)
        return
    parts = [text for role in TOLD if (text := _told(builder, role, (now or {}).get(role)))]
    if parts:
        line = ", ".join(parts)
        builder.say(AnswerKey.MY_VALUES, values=f"{line[0].upper()}{line[1:]}")
    else:
        builder.say(AnswerKey.NO_VALUES)
        if builder.state.dialog is None:
            nothing_open(builder)


def _say_one(builder: TurnBuilder, name: str) -> None:
    slot, dialog = builder.script.slots[name], builder.dialog
    rows = dialog.last_rows.get(name, {})
    key = AnswerKey.ROWS_AT if slot.dial else AnswerKey.ROWS_GAVE
    if name in dialog.values:
        value = builder.wording.value(dialog.values[name], slot)
        builder.say(SystemKey.KEPT, name=builder.wording.name(slot), value=value)
    elif rows:
        builder.say(SystemKey.KEPT, name=builder.wording.name(slot), value=by_value(builder, rows, key))
    else:
        builder.say(SystemKey.NOT_GIVEN, place=place(builder.script, builder.wording, name, None))


def _told(builder: TurnBuilder, role: Role, now: Value | None) -> str:
    value = known(builder, role) if now is None else now
    found = described_by(builder, role)
    if value is None or isinstance(value, dict) or found is None:
        return ""
    return f"{builder.wording.name(found[1]).lower()} {builder.wording.value(value, found[1])}"
