"""When the hoppers are to be looked at next, from the last look on, at the present pace."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from engine.dialog.house import Key
from engine.dialog.roles import Role
from engine.quantities import Measure, Quantity, measure, quantity
from engine.reminders.rules import Caution, Look, first_run_out, next_look
from engine.reminders.wall import Wall
from engine.shift.facts import Emptied, LookSet
from engine.shift.plan import Plan
from engine.shift.settings import WatchSettings
from engine.shift.state import Shift
from engine.shift.turn import ShiftTurn

LEAST = 0.01
WILLING = Measure(value=5.0, unit="acre")
ANSWER = timedelta(minutes=2.5)


def wanted(turn: ShiftTurn, settings: WatchSettings) -> LookSet:
    """The look that is wanted now; none in a pause and once planting is over."""
    shift, now = turn.shift, turn.now
    if not shift.runs:
        return LookSet(at=now)
    look = _from_last(turn, settings)
    gone = turn.timeline.worked(now) - turn.timeline.worked(shift.looked)
    due = max(now + look.interval - gone, now).replace(microsecond=0)
    due = max(due, now)
    told = max(due, shift.snoozed) if shift.snoozed else due
    ahead = measure(turn.timeline.pace(now).area(told - now), "acre").value
    area = turn.timeline.between(shift.looked, now).value + ahead
    willing = turn.plan.measure(Role.WILLING) or WILLING
    return LookSet(
        at=now,
        due=due,
        area=Measure(value=area, unit="acre"),
        decided_by=look.decided_by,
        tightened=look.tightened,
        accepted=willing if shift.snoozed and area > willing.to("acre").value else None,
        empty=_empty_before(told, turn) if shift.snoozed else None,
    )


def _empty_before(told: datetime, turn: ShiftTurn) -> Emptied | None:
    """The hopper that is empty first, where that is before a look that was put off."""
    found = soonest(turn.shift, turn.plan, turn.now)
    if found is None or turn.now + found[1] >= told:
        return None
    return Emptied(row=found[0], at=turn.now + max(found[1], timedelta()))


def _from_last(turn: ShiftTurn, settings: WatchSettings) -> Look:
    """The interval as if reckoned at the last look, so that nothing said meanwhile shortens it twice."""
    shift, timeline = turn.shift, turn.timeline
    pace = timeline.pace(turn.now)
    gone = timeline.worked(turn.now) - timeline.worked(shift.looked)
    caution = _caution(turn, settings)
    acres = measure(caution.area, "acre").value - timeline.between(shift.looked, turn.now).value
    acres += measure(pace.area(gone), "acre").value
    local = Wall.of(shift.looked, settings.zone).local
    caution = replace(caution, area=quantity(max(acres, LEAST), "acre"))
    found = soonest(shift, turn.plan, shift.looked)
    return next_look(pace, caution, local, timeline.worked(shift.looked), found[1] if found else None)


def _caution(turn: ShiftTurn, settings: WatchSettings) -> Caution:
    longest = turn.plan.measure(Role.LONGEST)
    own = timedelta(seconds=longest.to("s").value) if longest else None
    willing: Quantity = (turn.plan.measure(Role.WILLING) or WILLING).quantity
    shift = turn.shift
    least = min((shift.filled[row].mass for row in shift.rows), key=lambda mass: mass.to("kg").value)
    unseen = min(turn.plan.unseen(shift, least), willing / 2)
    return Caution(
        willing,
        own=own,
        late_from=settings.late_from,
        late_until=settings.late_until,
        long_after=settings.long_after,
        unseen=unseen,
        answer=ANSWER,
    )


def soonest(shift: Shift, plan: Plan, at: datetime) -> tuple[int, timedelta] | None:
    """The hopper that is empty first, and the time from a moment until then."""
    left = {row: mass.quantity for row, mass in plan.contents(shift, at).items()}
    return first_run_out(left, plan.area_rate(shift), shift.timeline.pace(shift.last), plan.spacing)


def say_why(turn: ShiftTurn) -> None:
    """Why the next look is when it is."""
    turn.say(Key.SHIFT_HINT)
