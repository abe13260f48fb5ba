"""What changes in passing: speed, rate, product, lot, field."""

from __future__ import annotations

from engine.calculations.domain import number
from engine.calculations.meter import Meter, speed_change_by_meter
from engine.calculations.runs.calibration import speed_within
from engine.dialog.facts.applied import Applied
from engine.dialog.facts.register import same_name
from engine.dialog.facts.role_values import as_word
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Role
from engine.dialog.taking.application_taking import say_kept_out, say_treated
from engine.messages import Report, Reported
from engine.quantities import Measure, measure
from engine.shift.record.shift_names import FIELD, name_at
from engine.shift.record.shift_state import ShiftState
from engine.shift.reports.label_reports import on_label, over_season, say_over, tell_season
from engine.shift.turn import ShiftTurn

_METERS: dict[str, Meter] = {"positive": "positive", "between": "between", "gravity": "gravity"}


def speed(turn: ShiftTurn, told: Reported) -> None:
    """A new speed: what to expect of this meter, whether the label still holds, whether to calibrate."""
    if not isinstance(told.value, Measure) or told.value.value <= 0:
        return
    turn.note(told)
    calibrated = turn.plan.calibrated_speed
    turn.say(SystemKey.SHIFT_SPEED, value=turn.rough(told.value))
    off = told.value.to("mph").value / calibrated.to("mph").value - 1
    within = number(speed_within(meter(turn)))
    if abs(off) <= within:
        shown = turn.builder.wording.amount(Measure(value=within * 100, unit="%"), 0)
        turn.say(SystemKey.SHIFT_SPEED_NEAR, calibrated=turn.rough(calibrated), within=shown)
        return
    turn.say(SystemKey.SHIFT_SPEED_FAR, calibrated=turn.rough(calibrated))
    _effect(turn, told.value)


def meter(turn: ShiftTurn) -> Meter | None:
    """The type of the meters, where it was told."""
    return _METERS.get(turn.plan.word(Role.METER) or "")


def _effect(turn: ShiftTurn, now: Measure) -> None:
    kind = meter(turn)
    wanted = turn.rate.quantity
    found = speed_change_by_meter(wanted, turn.plan.calibrated_speed.quantity, now.quantity, kind or "gravity")
    rate, off = turn.rough(measure(found.rate, turn.rate.unit)), turn.builder.wording.off(measure(found.change, "%"))
    if kind is None:
        turn.say(SystemKey.SHIFT_EFFECT_RANGE, rate=rate, off=off)
    else:
        turn.say(SystemKey.SHIFT_EFFECT, rate=rate, off=off)
    on_label(turn, found.rate)


def rate(turn: ShiftTurn, told: Reported) -> None:
    """A new rate; one outside the label is not kept."""
    if not isinstance(told.value, Measure) or told.value.value <= 0:
        return
    if not on_label(turn, told.value.quantity):
        turn.say(SystemKey.SHIFT_NOT_KEPT)
        return
    turn.note(told)
    turn.say(SystemKey.SHIFT_RATE, value=turn.rough(told.value))
    turn.say(SystemKey.SHIFT_RECALIBRATE)


def named(turn: ShiftTurn, told: Reported) -> None:
    """Another product, lot or field, by name where it was said."""
    was = turn.shift
    turn.note(told)
    name = as_word(told.value)
    if turn.shift.entered != was.entered:
        _tell_left(turn, was)
    if told.report is Report.PRODUCT:
        turn.say(SystemKey.SHIFT_PRODUCT, value=name) if name else turn.say(SystemKey.SHIFT_OTHER_PRODUCT)
    elif told.report is Report.LOT:
        turn.say(SystemKey.SHIFT_LOT, value=name) if name else turn.say(SystemKey.SHIFT_OTHER_LOT)
    elif name:
        turn.say(SystemKey.SHIFT_FIELD, value=name)
    else:
        turn.say(SystemKey.SHIFT_OTHER_FIELD)
    if told.report is Report.FIELD and name:
        if turn.shift.entered != was.entered:
            say_kept_out(turn.builder, name, was.applied())
        _guard_season(turn, name, was.applied())
    if told.area is not None:
        turn.say(SystemKey.SHIFT_FIELD_SIZE, area=turn.rough(told.area))
    if told.report is Report.PRODUCT:
        turn.say(SystemKey.SHIFT_SET_UP)
    elif told.report is Report.LOT:
        turn.say(SystemKey.SHIFT_RECALIBRATE)


def _guard_season(turn: ShiftTurn, field: str, here: tuple[Applied, ...]) -> None:
    """What the new field has got this year; stop where this pass brings it over the label's season limit. ``here`` is
    what the shift has applied before it."""
    product = as_word(turn.shift.now.get(str(Role.PRODUCT)))
    tell_season(turn.builder, field, product, here)
    over = over_season(turn.builder, turn.plan, field, product, turn.rate, here)
    if over is not None:
        turn.builder.add(over)
        say_over(turn)


def _tell_left(turn: ShiftTurn, was: ShiftState) -> None:
    """Until when to keep out of the field that the shift has moved on from and what it has got, for each product;
    ``was`` is the shift before that was told. Nothing of a name that is put right before anything was planted."""
    here = turn.shift.applied()
    left = name_at(was.names, FIELD, turn.when)
    for one in here:
        if (one.field is None and left is None) or same_name(one.field, left):
            say_treated(turn.builder, turn.shift.by_the_wall(one), here)
