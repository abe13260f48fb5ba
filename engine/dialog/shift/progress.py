"""How far a shift is: time worked and area planted, reckoned from the last moment that is known."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from datetime import datetime, timedelta

from engine.dialog.shift.fact import Proof
from engine.dialog.shift.plan import Plan
from engine.dialog.shift.state import Shift
from engine.quantities import Measure, measure


def reckoned(shift: Shift, plan: Plan, now: datetime) -> Proof:
    """The shift at a moment; one that lies before what is known, as from a phone without coverage, counts as that."""
    moment = max(now, shift.mark.at)
    if not shift.runs:
        return shift.mark.model_copy(update={"at": moment})
    gone = moment - shift.mark.at
    planted = shift.mark.planted.value + measure(plan.pace(shift).area(gone), "acre").value
    worked = shift.mark.worked + gone.total_seconds()
    return Proof(at=moment, worked=worked, planted=Measure(value=planted, unit="acre"))


def back_at(shift: Shift, plan: Plan, moment: datetime) -> Proof:
    """The shift at a moment since it began, as if planting had gone on evenly between two that are known."""
    if moment >= shift.mark.at:
        return reckoned(shift, plan, moment)
    place = bisect_right(shift.track, moment, key=lambda one: one.at)
    first, last = shift.track[max(place - 1, 0)], shift.track[place] if place < len(shift.track) else shift.mark
    span = (last.at - first.at).total_seconds()
    share = (moment - first.at).total_seconds() / span if span > 0 else 0.0
    return _along(first, last, share).model_copy(update={"at": moment})


def reached(shift: Shift, last: Proof, acres: float) -> Proof:
    """The first moment up to ``last`` at which so much was planted, as if planting had gone on evenly between two that
    are known: never in a pause, as what stands before and after it is known."""
    known = [one for one in shift.track if one.at < last.at]
    points = [*known, last]
    place = bisect_left(points, acres, key=lambda one: one.planted.value)
    if place in (0, len(points)):
        return points[min(place, len(points) - 1)]
    first, after = points[place - 1], points[place]
    return _along(first, after, (acres - first.planted.value) / (after.planted.value - first.planted.value))


def _along(first: Proof, last: Proof, share: float) -> Proof:
    span = last.planted.value - first.planted.value
    return Proof(
        at=first.at + timedelta(seconds=(last.at - first.at).total_seconds() * share),
        worked=first.worked + (last.worked - first.worked) * share,
        planted=Measure(value=first.planted.value + span * share, unit="acre"),
    )
