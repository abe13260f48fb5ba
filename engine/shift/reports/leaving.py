"""Leaving a shift before its end: what it has planted and what is in doubt is noted, and what goes on from there."""

from __future__ import annotations

from engine.calculations.rate import area_rate
from engine.dialog.facts.events import Cancelled, Left
from engine.dialog.schema.slot_roles import Role
from engine.dialog.turns.opening import remembered, skipped_for_good
from engine.quantities import Measure
from engine.shift.reports.course_of_work import END, still_doubted
from engine.shift.turn import ShiftTurn
from engine.values import Rows, Value

LEAST = 0.1
_SCALED = (Role.TARGET, Role.TUBE)
_NAMES = (Role.LOT, Role.FIELD)


def depart(turn: ShiftTurn, to_return: bool) -> Cancelled:
    """Note the end of planting and of what is in doubt; the fact with which the shift is left.

    What was changed in passing is known to the next test run. ``to_return``: what is in the hoppers and where it is
    planted stays for when the shift goes on.
    """
    if not turn.shift.closing:
        turn.note(END)
        still_doubted(turn)
    builder = turn.builder
    left = _left(turn) if to_return else None
    skipped = skipped_for_good(builder.script, builder.dialog.skipped)
    values = {**remembered(builder.script, builder.dialog.values), **_changed(turn)}
    here = builder.dialog
    return Cancelled(dialog=here.dialog, phase=here.phase, values=values, skipped=skipped, left=left)


def _changed(turn: ShiftTurn) -> dict[str, Value]:
    """Speed and rate as they were changed, and what a row should catch at that rate."""
    names, now = turn.plan.names, turn.shift.now
    found: dict[str, Value] = {}
    if isinstance(now.get("speed"), Measure):
        found[names[Role.SPEED]] = now["speed"]
    if isinstance(now.get("rate"), Measure):
        found |= {names[Role.RATE]: now["rate"], **_targets(turn)}
    return found


def _targets(turn: ShiftTurn) -> dict[str, Value]:
    """What a row should catch goes with the rate."""
    was, will_be = area_rate(turn.plan.needed(Role.RATE).quantity, turn.plan.spacing), turn.plan.area_rate(turn.shift)
    factor = float((will_be / was).to("dimensionless").magnitude)
    known = {turn.plan.names[role]: turn.plan.measure(role) for role in _SCALED if role in turn.plan.names}
    return {name: one.model_copy(update={"value": one.value * factor}) for name, one in known.items() if one}


def _left(turn: ShiftTurn) -> Left:
    script = turn.builder.script
    values, rows = {**_told(turn), **_field_left(turn)}, _contents(turn)
    kept = {name: value for name, value in values.items() if name in script.carries}
    asked = {name for name in script.carries if not script.slots[name].per_row and name not in kept}
    return Left(
        at=turn.builder.now,
        values=kept,
        rows={name: one for name, one in rows.items() if name in script.carries},
        skipped=tuple(sorted(asked)),
    )


def _told(turn: ShiftTurn) -> dict[str, Value]:
    """Lot and field as they are now; the planned speed unless another is driven."""
    names, now = turn.plan.names, turn.shift.now
    found: dict[str, Value] = {names[role]: now[str(role)] for role in _NAMES if role in names and str(role) in now}
    planned = turn.plan.measure(Role.PLANNED)
    return found | ({names[Role.PLANNED]: planned} if planned and "speed" not in now else {})


def _field_left(turn: ShiftTurn) -> dict[str, Value]:
    """What of the field is not planted yet."""
    left, size = turn.plan.field_left(turn.shift, turn.now), turn.plan.field_size(turn.shift)
    if left is None or size is None or left.value < LEAST:
        return {}
    return {turn.plan.names[Role.FIELD_AREA]: left.to(size.unit)}


def _contents(turn: ShiftTurn) -> dict[str, Rows]:
    """What the hoppers of the rows in use should hold now; of the others, what was put in."""
    names, shift = turn.plan.names, turn.shift
    held: Rows = {**turn.plan.contents(shift, turn.now)}
    loaded, used = names[Role.LOADED], names.get(Role.IN_USE)
    rows = turn.builder.dialog.rows
    return {loaded: {**rows.get(loaded, {}), **held}} | ({used: rows.get(used, {})} if used else {})
