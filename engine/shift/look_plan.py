"""The plan of looks, as the grower changes it during a shift, with what it costs and promises."""

from __future__ import annotations

from datetime import timedelta

from engine.dialog.reply.system_texts import SystemKey
from engine.messages import Reported
from engine.quantities import Dimension, Measure, measure
from engine.reminders.price import Outfit, Price, price
from engine.shift.look import longest_apart, look_plan
from engine.shift.record.shift_ledger import in_pounds
from engine.shift.record.shift_state import REFILLS
from engine.shift.turn import ShiftTurn

NIGHT = timedelta(hours=12)
"""A night's shift, for what a plan of looks costs (own decision)."""


def chosen(turn: ShiftTurn, told: Reported) -> None:
    """Take the plan that was said, and say its price."""
    if told.value is None or (isinstance(told.value, Measure) and told.value.value <= 0):
        return
    turn.note(told)
    found, shift = _price(turn), turn.shift
    within, row = turn.rough(measure(found.within, "acre")), turn.rough(measure(found.within_row, "acre"))
    looks = str(found.looks)
    if isinstance(told.value, Measure) and told.value.dimension is Dimension.TIME:
        time = turn.walk.wording.echo(told.value)
        turn.say(SystemKey.LOOKS_TIMED, time=time, looks=looks, within=within, row=row)
    elif isinstance(shift.looks, Measure):
        area = turn.walk.wording.echo(shift.looks)
        turn.say(SystemKey.LOOKS_EVERY, area=area, looks=looks, within=within, row=row)
    else:
        key = SystemKey.LOOKS_REFILLS if shift.looks == REFILLS else SystemKey.LOOKS_ONCE
        turn.say(key, looks=looks, within=within, row=row)


def _price(turn: ShiftTurn) -> Price:
    """What the plan of now comes to in a night, from this planter's own figures."""
    shift, longest = turn.shift, longest_apart(turn)
    hopper = min((turn.plan.full(shift, row) for row in shift.rows), key=in_pounds)
    own = timedelta(seconds=longest.to("s").value) if longest else None
    pace = turn.timeline.pace(turn.now)
    rate = turn.plan.rate(shift).quantity
    outfit = Outfit(len(shift.rows), turn.plan.spacing, hopper.quantity, rate, pace, own=own)
    return price(look_plan(turn), outfit, NIGHT)
