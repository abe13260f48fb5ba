"""What the operator told: the values that count now, in one line, or the one that is named."""

from __future__ import annotations

from engine.dialog.questions.knowledge import described_by, known
from engine.dialog.questions.row_answers import by_value
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.sentences import place
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Role
from engine.dialog.taking.commands import nothing_open
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.values import Value

TOLD = (
    *(Role.ROWS, Role.SPACING, Role.PRODUCT, Role.LOT, Role.RATE, Role.LABEL_LOW, Role.LABEL_HIGH, Role.SPEED),
    *(Role.COURSE, Role.TARE, Role.FIELD, Role.FIELD_AREA),
)
"""What is told, in this order."""


def say_values(walk: TurnBuilder, slot: str | None, now: dict[Role, Value] | None = None) -> None:
    """What is known of the planter and the job in one line; ``now`` is what has changed since, by role."""
    if slot is not None and walk.state.dialog is not None:
        _say_one(walk, slot)
        return
    parts = [text for role in TOLD if (text := _told(walk, role, (now or {}).get(role)))]
    if parts:
        line = ", ".join(parts)
        walk.say(AnswerKey.MY_VALUES, values=f"{line[0].upper()}{line[1:]}")
    else:
        walk.say(AnswerKey.NO_VALUES)
        if walk.state.dialog is None:
            nothing_open(walk)


def _say_one(walk: TurnBuilder, name: str) -> None:
    slot, dialog = walk.script.slots[name], walk.dialog
    rows = dialog.last_rows.get(name, {})
    key = AnswerKey.ROWS_AT if slot.dial else AnswerKey.ROWS_GAVE
    if name in dialog.values:
        value = walk.wording.value(dialog.values[name], slot)
        walk.say(SystemKey.KEPT, name=walk.wording.name(slot), value=value)
    elif rows:
        walk.say(SystemKey.KEPT, name=walk.wording.name(slot), value=by_value(walk, rows, key))
    else:
        walk.say(SystemKey.NOT_GIVEN, place=place(walk.script, walk.wording, name, None))


def _told(walk: TurnBuilder, role: Role, now: Value | None) -> str:
    value = known(walk, role) if now is None else now
    found = described_by(walk, role)
    if value is None or isinstance(value, dict) or found is None:
        return ""
    return f"{walk.wording.name(found[1]).lower()} {walk.wording.value(value, found[1])}"
