"""How far a shift is: time worked and area planted, reckoned from the last moment that is known."""

from __future__ import annotations

from bisect import bisect_right
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


def between(first: Proof, last: Proof, acres: float) -> Proof:
    """The moment between two at which so much was planted, as if planting had gone on evenly."""
    span = last.planted.value - first.planted.value
    share = min(max((acres - first.planted.value) / span, 0.0), 1.0) if span > 0 else 0.0
    return _along(first, last, share)


def _along(first: Proof, last: Proof, share: float) -> Proof:
    span = last.planted.value - first.planted.value
    return Proof(
        at=first.at + timedelta(seconds=(last.at - first.at).total_seconds() * share),
        worked=first.worked + (last.worked - first.worked) * share,
        planted=Measure(value=first.planted.value + span * share, unit="acre"),
    )
