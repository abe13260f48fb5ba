"""Leaving a shift before its end: what it has planted and what is in doubt is noted, and what goes on from there."""

from __future__ import annotations

from engine.calculations.rate import area_rate
from engine.dialog.events import Cancelled, Left
from engine.dialog.opening import remembered, skipped_for_good
from engine.dialog.roles import Role
from engine.dialog.shift.course import END, still_doubted
from engine.dialog.shift.log import Log
from engine.quantities import Measure
from engine.values import Rows, Value

LEAST = 0.1
_SCALED = (Role.TARGET, Role.TUBE)
_NAMES = (Role.LOT, Role.FIELD)


def depart(log: Log, to_return: bool) -> Cancelled:
    """Note the end of planting and of what is in doubt; the fact with which the shift is left.

    What was changed in passing is known to the next test run. ``to_return``: what is in the hoppers and where it is
    planted stays for when the shift goes on.
    """
    if not log.shift.closing:
        log.note(END)
        still_doubted(log)
    walk = log.walk
    left = _left(log) if to_return else None
    skipped = skipped_for_good(walk.script, walk.dialog.skipped)
    values = {**remembered(walk.script, walk.dialog.values), **_changed(log)}
    here = walk.dialog
    return Cancelled(dialog=here.dialog, phase=here.phase, values=values, skipped=skipped, left=left)


def _changed(log: Log) -> dict[str, Value]:
    """Speed and rate as they were changed, and what a row should catch at that rate."""
    names, now = log.plan.names, log.shift.now
    found: dict[str, Value] = {}
    if isinstance(now.get("speed"), Measure):
        found[names[Role.SPEED]] = now["speed"]
    if isinstance(now.get("rate"), Measure):
        found |= {names[Role.RATE]: now["rate"], **_targets(log)}
    return found


def _targets(log: Log) -> dict[str, Value]:
    """What a row should catch goes with the rate."""
    was, will_be = area_rate(log.plan.needed(Role.RATE).quantity, log.plan.spacing), log.plan.area_rate(log.shift)
    factor = float((will_be / was).to("dimensionless").magnitude)
    known = {log.plan.names[role]: log.plan.measure(role) for role in _SCALED if role in log.plan.names}
    return {name: one.model_copy(update={"value": one.value * factor}) for name, one in known.items() if one}


def _left(log: Log) -> Left:
    script = log.walk.script
    values, rows = {**_told(log), **_field_left(log)}, _contents(log)
    kept = {name: value for name, value in values.items() if name in script.carries}
    asked = {name for name in script.carries if not script.slots[name].per_row and name not in kept}
    return Left(
        at=log.walk.now,
        values=kept,
        rows={name: one for name, one in rows.items() if name in script.carries},
        skipped=tuple(sorted(asked)),
    )


def _told(log: Log) -> dict[str, Value]:
    """Lot and field as they are now; the planned speed unless another is driven."""
    names, now = log.plan.names, log.shift.now
    found: dict[str, Value] = {names[role]: now[str(role)] for role in _NAMES if role in names and str(role) in now}
    planned = log.plan.measure(Role.PLANNED)
    return found | ({names[Role.PLANNED]: planned} if planned and "speed" not in now else {})


def _field_left(log: Log) -> dict[str, Value]:
    """What of the field is not planted yet."""
    left, size = log.plan.field_left(log.shift, log.shift.mark.planted), log.plan.field_size(log.shift)
    if left is None or size is None or left.value < LEAST:
        return {}
    return {log.plan.names[Role.FIELD_AREA]: left.to(size.unit)}


def _contents(log: Log) -> dict[str, Rows]:
    """What the hoppers of the rows in use should hold now; of the others, what was put in."""
    names, shift = log.plan.names, log.shift
    held: Rows = {row: log.plan.content(shift, row, shift.mark.planted) for row in shift.hoppers}
    loaded, used = names[Role.LOADED], names.get(Role.IN_USE)
    rows = log.walk.dialog.rows
    return {loaded: {**rows.get(loaded, {}), **held}} | ({used: rows.get(used, {})} if used else {})
