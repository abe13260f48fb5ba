"""What is known of a shift seen anew: areas set right by what was told, moments that a later word turns back."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from itertools import pairwise
from typing import Any

from engine.dialog.shift.fact import Noted, Proof, Use
from engine.dialog.shift.state import Hopper, Shift
from engine.quantities import Measure

LEAST_AREA = 0.05
"""What a hopper used over fewer acres is not worked with."""


def turned_back(shift: Shift, mark: Proof) -> Shift:
    """Nothing lies beyond a moment in the past from which on things went otherwise than was known."""
    if mark.at >= shift.mark.at:
        return shift

    def within(one: Proof) -> Proof:
        planted = min(one.planted, mark.planted, key=lambda area: area.value)
        return Proof(at=min(one.at, mark.at), worked=min(one.worked, mark.worked), planted=planted)

    def hopper(one: Hopper) -> Hopper:
        at = min(one.at, mark.at) if one.at else None
        return one.model_copy(update={"planted": min(one.planted, mark.planted, key=lambda area: area.value), "at": at})

    hoppers = {name: _each(getattr(shift, name), hopper) for name in ("filled", "hoppers")}
    proofs = {"proofs": _each(shift.proofs, within), "looked": within(shift.looked), "measured": within(shift.measured)}
    entered = min(shift.entered, mark.planted, key=lambda area: area.value)
    return shift.model_copy(update={**proofs, **hoppers, "entered": entered, "uses": dict(_used_by(shift, mark))})


def _used_by(shift: Shift, mark: Proof) -> Iterator[tuple[int, Use]]:
    for row, use in shift.uses.items():
        area = min(use.area.value, mark.planted.value - use.since.value)
        if area >= LEAST_AREA:
            yield row, use.model_copy(update={"area": use.area.model_copy(update={"value": area})})


def set_right(shift: Shift, fact: Noted) -> Shift:
    """Everything since the area was last told moves in proportion to what it really is."""
    if fact.reckoned is None:
        return shift
    first, last = shift.measured.planted.value, fact.reckoned.value
    scale = (fact.mark.planted.value - first) / (last - first) if last > first else 1.0

    def right(area: Measure) -> Measure:
        return area.model_copy(update={"value": first + (area.value - first) * scale}) if area.value > first else area

    def moved(one: Any) -> Any:
        return one.model_copy(update={"planted": right(one.planted)})

    def over(use: Use) -> Use:
        end = Measure(value=use.since.value + use.area.value, unit="acre")
        since = right(use.since)
        area = Measure(value=max(right(end).value - since.value, 0.0), unit="acre")
        return use.model_copy(update={"since": since, "area": area})

    rows = {name: _each(getattr(shift, name), moved) for name in ("proofs", "filled", "hoppers")}
    uses = {name: _each(getattr(shift, name), over) for name in ("uses", "weighed", "earlier")}
    track = tuple(moved(one) for one in shift.track)
    changes = {"looked": moved(shift.looked), "track": track, "entered": right(shift.entered), **rows, **uses}
    return shift.model_copy(update=changes)


def interrupted(shift: Shift, fact: Noted) -> Shift:
    """Nothing was planted in a pause that is told once it is over, and more or less before and after it."""
    since, until = fact.moment, fact.until
    if since is None or until is None:
        return shift

    def area(one: Measure) -> Measure:
        return one.model_copy(update={"value": bent(one.value, fact.bends)})

    def moment(at: datetime) -> datetime:
        return outside(at, since, until)

    def proof(one: Proof) -> Proof:
        worked = without(one.worked, since.worked, until.worked)
        return Proof(at=moment(one.at), worked=worked, planted=area(one.planted))

    def hopper(one: Hopper) -> Hopper:
        return one.model_copy(update={"planted": area(one.planted), "at": moment(one.at) if one.at else None})

    def over(use: Use) -> Use:
        first, last = (bent(end, fact.bends) for end in (use.since.value, use.since.value + use.area.value))
        size = use.area.model_copy(update={"value": max(last - first, 0.0)})
        return use.model_copy(update={"since": area(use.since), "area": size})

    rows = {name: _each(getattr(shift, name), hopper) for name in ("filled", "hoppers")}
    uses = {name: _each(getattr(shift, name), over) for name in ("uses", "weighed", "earlier")}
    track = sorted((*map(proof, shift.track), *map(proof, (since, until))), key=lambda one: one.at)
    changes = {name: proof(getattr(shift, name)) for name in ("mark", "measured", "looked")}
    told = tuple(one.model_copy(update={"mark": proof(one.mark)}) for one in shift.told)
    stretches = {row: moment(at) for row, at in shift.stretches.items()}
    more = {"proofs": _each(shift.proofs, proof), "told": told, "entered": area(shift.entered), "stretches": stretches}
    return shift.model_copy(update={**changes, **rows, **uses, **more, "track": tuple(track)})


def outside(at: datetime, since: Proof, until: Proof) -> datetime:
    """A moment, or the beginning of the pause that it lies in."""
    return since.at if since.at < at < until.at else at


def without(amount: float, first: float, last: float) -> float:
    """An amount of what only grows, less what it grew from ``first`` to ``last``."""
    return amount - max(min(amount, last) - first, 0.0)


def bent(area: float, bends: Sequence[tuple[float, float]]) -> float:
    """An area by what its neighbours have become: evenly between them, as they are beyond the last."""
    for (first, new_first), (last, new_last) in pairwise(bends):
        if area <= last:
            share = (area - first) / (last - first) if last > first else 1.0
            return new_first + (new_last - new_first) * max(share, 0.0)
    last, new_last = bends[-1]
    return area - last + new_last


def _each(rows: dict[int, Any], change: Callable[[Any], Any]) -> dict[int, Any]:
    return {row: change(one) for row, one in rows.items()}
