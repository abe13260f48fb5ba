"""What changes in passing: speed, rate, product, lot, field."""

from __future__ import annotations

from engine.calculations.calibration import SPEED_WITHIN
from engine.calculations.domain import number
from engine.calculations.label import label_check
from engine.calculations.meter import Meter, speed_change_by_meter
from engine.dialog.house import Key
from engine.dialog.roles import Role
from engine.dialog.shift.log import Log
from engine.messages import Report, Reported
from engine.quantities import Measure, Quantity, measure

_METERS: dict[str, Meter] = {"positive": "positive", "between": "between", "gravity": "gravity"}


def speed(log: Log, told: Reported) -> None:
    """A new speed: what to expect of this meter, whether the label still holds, whether to calibrate."""
    if not isinstance(told.value, Measure) or told.value.value <= 0:
        return
    log.note(told)
    calibrated = log.plan.calibrated_speed
    log.say(Key.SHIFT_SPEED, value=log.rough(told.value))
    off = told.value.to("mph").value / calibrated.to("mph").value - 1
    if abs(off) <= number(SPEED_WITHIN):
        log.say(Key.SHIFT_SPEED_NEAR, calibrated=log.rough(calibrated))
        return
    log.say(Key.SHIFT_SPEED_FAR, calibrated=log.rough(calibrated))
    _effect(log, told.value)


def _effect(log: Log, now: Measure) -> None:
    meter = _METERS.get(log.plan.word(Role.METER) or "")
    wanted = log.rate.quantity
    found = speed_change_by_meter(wanted, log.plan.calibrated_speed.quantity, now.quantity, meter or "gravity")
    rate, off = log.rough(measure(found.rate, log.rate.unit)), log.walk.wording.off(measure(found.change, "%"))
    if meter is None:
        log.say(Key.SHIFT_EFFECT_RANGE, rate=rate, off=off)
    else:
        log.say(Key.SHIFT_EFFECT, rate=rate, off=off)
    on_label(log, found.rate)


def on_label(log: Log, rate: Quantity) -> bool:
    """Whether a rate is one that the label allows, as far as its limits are known; says where it is not."""
    low, high = log.plan.measure(Role.LABEL_LOW), log.plan.measure(Role.LABEL_HIGH)
    if low is None or high is None:
        return True
    outcome = label_check(rate, low.quantity, high.quantity, log.plan.spacing).outcome
    if outcome == "below":
        log.say(Key.SHIFT_LABEL_BELOW, limit=log.rough(low))
    elif outcome == "above":
        log.say(Key.SHIFT_LABEL_ABOVE, limit=log.rough(high))
    return outcome == "within"


def rate(log: Log, told: Reported) -> None:
    """A new rate; one outside the label is not kept."""
    if not isinstance(told.value, Measure) or told.value.value <= 0:
        return
    if not on_label(log, told.value.quantity):
        log.say(Key.SHIFT_NOT_KEPT)
        return
    log.note(told)
    log.say(Key.SHIFT_RATE, value=log.rough(told.value))
    log.say(Key.SHIFT_RECALIBRATE)


def named(log: Log, told: Reported) -> None:
    """Another product, lot or field, by name where it was said."""
    log.note(told)
    name = told.value if isinstance(told.value, str) else None
    if told.report is Report.PRODUCT:
        log.say(Key.SHIFT_PRODUCT, value=name) if name else log.say(Key.SHIFT_OTHER_PRODUCT)
    elif told.report is Report.LOT:
        log.say(Key.SHIFT_LOT, value=name or "")
    elif name:
        log.say(Key.SHIFT_FIELD, value=name)
    else:
        log.say(Key.SHIFT_OTHER_FIELD)
    if told.area is not None:
        log.say(Key.SHIFT_FIELD_SIZE, area=log.rough(told.area))
    if told.report is Report.PRODUCT:
        log.say(Key.SHIFT_SET_UP)
    elif told.report is Report.LOT:
        log.say(Key.SHIFT_RECALIBRATE)
