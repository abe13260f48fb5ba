"""The fold of the facts of a shift: its state after each of them."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import assert_never

from engine.dialog.shift.fact import NOTHING, Doubted, LookSet, Noted, Proof, RateFound, ShiftStarted
from engine.dialog.shift.recast import interrupted, set_right, turned_back
from engine.dialog.shift.state import CALLED, LOOKED, NAMED, OVER, Hopper, Shift, ShiftFact, Told
from engine.messages import Report
from engine.quantities import Measure

_WRONG = frozenset({Report.STOPPED, Report.HIGH})
_MENDED = frozenset({Report.GOOD, Report.RUNS, Report.CAUGHT})


def begin(fact: ShiftStarted) -> Shift:
    """A shift at its beginning: every row in use counts as seen to feed."""
    start = Proof(at=fact.at)
    hoppers = {row: Hopper(mass=mass, planted=NOTHING, at=fact.at) for row, mass in fact.hoppers.items()}
    return Shift(
        started=fact.at,
        mark=start,
        measured=start,
        looked=start,
        efficiency=fact.efficiency,
        proofs=dict.fromkeys(fact.hoppers, start),
        filled=hoppers,
        hoppers=hoppers,
        now=fact.now,
        track=(start,),
    )


def advance(shift: Shift | None, fact: ShiftFact) -> Shift:
    """The shift after one more fact."""
    if isinstance(fact, ShiftStarted):
        return begin(fact)
    if shift is None:
        raise ValueError(f"{fact.kind} outside a shift")
    match fact:
        case Noted():
            return _note(shift, fact)
        case Doubted():
            return _doubted(shift, fact)
        case LookSet():
            return shift.model_copy(update={"look": fact})
        case RateFound():
            return _weighed(shift, fact)
        case _:
            assert_never(fact)


def _note(shift: Shift, fact: Noted) -> Shift:
    shift, when = turned_back(interrupted(set_right(shift, fact), fact), fact.mark), fact.moment or fact.mark
    hoppers = {row: Hopper(mass=mass, planted=when.planted, at=when.at) for row, mass in fact.hoppers.items()}
    named = NAMED.get(fact.report)
    given = {**({named: fact.value} if named else {}), **({"lot": fact.lot} if fact.lot else {})}
    changes = {
        "mark": fact.mark,
        "efficiency": shift.efficiency if fact.efficiency is None else fact.efficiency,
        "track": (*(one for one in shift.track if one.at <= fact.mark.at), fact.mark),
        "proofs": {**shift.proofs, **_proved(shift, fact)},
        "stretches": _stretches(shift, fact),
        "dated": _dated(shift, fact),
        "naming": fact.report if fact.report in CALLED and fact.value is None else None,
        "troubled": _troubled(shift, fact),
        "hoppers": {**shift.hoppers, **hoppers},
        "filled": {**shift.filled, **hoppers} if fact.report is Report.REFILLED else shift.filled,
        "uses": {**shift.uses, **fact.uses},
        "now": {**shift.now, **{name: value for name, value in given.items() if value is not None}},
    }
    return shift.model_copy(update={**changes, **_moment(shift, fact)})


def _proved(shift: Shift, fact: Noted) -> dict[int, Proof]:
    """A moment at which the operator himself says that a row went wrong stands against any proof."""
    if fact.report in _WRONG:
        return fact.proofs
    return {row: _later(shift.proofs.get(row), one) for row, one in fact.proofs.items()}


def _stretches(shift: Shift, fact: Noted) -> dict[int, datetime]:
    """A row that goes wrong anew begins another stretch."""
    anew = {row for row in fact.rows if row not in shift.troubled} if fact.report in _WRONG else set()
    return {row: since for row, since in shift.stretches.items() if row not in anew}


def _dated(shift: Shift, fact: Noted) -> tuple[int, ...]:
    if fact.report not in _WRONG:
        return shift.dated
    kept = {row for row in shift.dated if row in shift.troubled or row not in fact.rows}
    return tuple(sorted(kept | fact.proofs.keys()))


def _doubted(shift: Shift, fact: Doubted) -> Shift:
    told = {(fact.rows, fact.since), (fact.rows, fact.instead)}
    doubts = (*(one for one in shift.doubts if (one.rows, one.since) not in told), fact)
    return shift.model_copy(
        update={"doubts": doubts, "stretches": {**shift.stretches, **dict.fromkeys(fact.rows, fact.since)}}
    )


def _later(before: Proof | None, proof: Proof) -> Proof:
    """Of two proofs the one that reaches farther."""
    return before if before and before.planted.value > proof.planted.to("acre").value else proof


def _troubled(shift: Shift, fact: Noted) -> dict[int, Report]:
    if fact.report in _WRONG:
        return {**shift.troubled, **dict.fromkeys(fact.rows, fact.report)}
    mended = fact.rows if fact.report in (Report.GOOD, Report.RUNS) else fact.proofs
    return {row: what for row, what in shift.troubled.items() if fact.report not in _MENDED or row not in mended}


def _weighed(shift: Shift, fact: RateFound) -> Shift:
    if fact.corrects:
        return shift.model_copy(update={"rates": (*shift.rates[:-1], fact)})
    changes = {"rates": (*shift.rates, fact), "earlier": shift.weighed, "weighed": shift.uses, "uses": {}}
    return shift.model_copy(update=changes)


def _moment(shift: Shift, fact: Noted) -> dict[str, object]:
    """What a report makes of the clock: a look, a pause, a snooze, an area that is known."""
    if fact.report in LOOKED:
        return {"looked": _look(shift, fact), "snoozed": None}
    match fact.report:
        case Report.PLANTED:
            return {"measured": fact.mark, "told": (*shift.told, Told(mark=fact.mark, believed=shift.efficiency))}
        case Report.PAUSED if fact.until is not None:
            return {"resumed": max(shift.planting_since, fact.until.at)}
        case Report.PAUSED:
            return {"paused": True, "snoozed": None, "stood": fact.mark.at}
        case Report.FIELD if shift.naming is Report.FIELD or fact.value == shift.now.get("field", ""):
            return {"size": fact.size or shift.size}
        case Report.FIELD:
            return {"moved": True, "entered": fact.mark.planted, "size": fact.size}
        case Report.WENT_ON:
            return {"paused": False, "closing": False, "resumed": fact.mark.at, "stood": None}
        case Report.ENDED:
            stood = fact.mark.at if shift.runs or fact.moment else shift.stood
            return {"closing": True, "snoozed": None, "ended": fact.value == OVER, "stood": stood}
        case Report.SNOOZED if isinstance(fact.value, Measure):
            return {"snoozed": fact.mark.at + _seconds(fact.value)}
        case _:
            return {}


def _look(shift: Shift, fact: Noted) -> Proof:
    """Hoppers that were filled in the past were looked at then; who sees a row stand looks at it now."""
    if fact.moment is None or fact.report in _WRONG:
        return fact.mark
    return max(shift.looked, fact.moment, key=lambda one: one.at)


def _seconds(length: Measure) -> timedelta:
    return timedelta(seconds=length.to("s").value)
