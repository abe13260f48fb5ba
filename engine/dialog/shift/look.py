"""When the hoppers are to be looked at next, from the last look on, at the present pace."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from engine.dialog.shift.fact import Emptied, LookSet, Proof
from engine.dialog.shift.plan import Plan
from engine.dialog.shift.state import Shift
from engine.quantities import Measure, measure, quantity
from engine.reminders.rules import Look, first_run_out, next_look
from engine.reminders.wall import Wall

LEAST = 0.01


def wanted(shift: Shift, plan: Plan, mark: Proof) -> LookSet:
    """The look that is wanted now; none in a pause and once planting is over."""
    if not shift.runs:
        return LookSet(at=mark.at)
    look = _from_last(shift, plan, mark)
    gone = timedelta(seconds=mark.worked - shift.looked.worked)
    due = max(mark.at + look.interval - gone, mark.at).replace(microsecond=0)
    due = max(due, mark.at)
    told = max(due, shift.snoozed) if shift.snoozed else due
    ahead = measure(plan.pace(shift).area(told - mark.at), "acre").value
    area = mark.planted.value - shift.looked.planted.value + ahead
    return LookSet(
        at=mark.at,
        due=due,
        area=Measure(value=area, unit="acre"),
        decided_by=look.decided_by,
        tightened=look.tightened,
        accepted=plan.willing if shift.snoozed and area > plan.willing.to("acre").value else None,
        empty=_empty_before(told, shift, plan, mark) if shift.snoozed else None,
    )


def _empty_before(told: datetime, shift: Shift, plan: Plan, mark: Proof) -> Emptied | None:
    """The hopper that is empty first, where that is before a look that was put off."""
    found = soonest(shift, plan, mark)
    if found is None or mark.at + found[1] >= told:
        return None
    return Emptied(row=found[0], at=mark.at + max(found[1], timedelta()))


def _from_last(shift: Shift, plan: Plan, mark: Proof) -> Look:
    """The interval as if reckoned at the last look, so that nothing said meanwhile shortens it twice."""
    pace = plan.pace(shift)
    gone = timedelta(seconds=mark.worked - shift.looked.worked)
    planted = mark.planted.value - shift.looked.planted.value
    caution = plan.caution(shift)
    acres = measure(caution.area, "acre").value - planted + measure(pace.area(gone), "acre").value
    local = Wall.of(shift.looked.at, plan.vigil.zone).local
    worked = timedelta(seconds=shift.looked.worked)
    caution = replace(caution, area=quantity(max(acres, LEAST), "acre"))
    return next_look(pace, caution, local, worked, _runs_out(shift, plan))


def _runs_out(shift: Shift, plan: Plan) -> timedelta | None:
    """From the last look to the first empty hopper."""
    found = soonest(shift, plan, shift.looked)
    return found[1] if found else None


def soonest(shift: Shift, plan: Plan, mark: Proof) -> tuple[int, timedelta] | None:
    """The hopper that is empty first, and the time from a moment until then."""
    left = {row: plan.content(shift, row, mark.planted).quantity for row in shift.hoppers}
    return first_run_out(left, plan.area_rate(shift), plan.pace(shift), plan.spacing)
