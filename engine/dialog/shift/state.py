"""The state of a shift: the fold of its facts, inside the state of its dialog."""

from __future__ import annotations

from datetime import timedelta
from typing import assert_never

from pydantic import AwareDatetime

from engine.dialog.events import Doubted, LookSet, Noted, RateFound, ShiftStarted
from engine.messages import Message, Report
from engine.quantities import Measure
from engine.values import Value

NOTHING = Measure(value=0.0, unit="acre")
ShiftFact = ShiftStarted | Noted | Doubted | LookSet | RateFound

_PROVED = frozenset({Report.GOOD, Report.RUNS, Report.CAUGHT})
"""Reports that a row feeds."""
_LOOKED = frozenset({Report.GOOD, Report.HIGH, Report.STOPPED, Report.LEFT, Report.LEVEL, Report.REFILLED})
"""Reports by somebody who looked at the hoppers."""
_NAMED = {
    Report.SPEED: "speed",
    Report.RATE: "rate",
    Report.PRODUCT: "product",
    Report.LOT: "lot",
    Report.FIELD: "field",
    Report.HANDED_OVER: "operator",
}
"""What a report changes for the rest of the shift."""


class Proof(Message):
    """A moment of the shift: ``worked`` seconds without pauses, and the area planted by then."""

    at: AwareDatetime
    worked: float = 0.0
    planted: Measure = NOTHING


class Hopper(Message):
    """What a hopper held, and the area planted by then."""

    mass: Measure
    planted: Measure


class Shift(Message):
    """Where a shift stands.

    ``mark`` is the last moment whose area and time are known, from which on they are reckoned while it is not
    ``paused``; ``measured`` the last whose area the operator said; ``looked`` the last look at the hoppers.
    ``proofs`` is when each row was last known to feed, ``troubled`` the rows that stopped or stay high. ``filled`` is
    what each hopper held when it was last filled, ``hoppers`` the same as last known; ``now`` what is planted with.
    """

    started: AwareDatetime
    mark: Proof
    measured: Proof
    looked: Proof
    paused: bool = False
    ended: bool = False
    snoozed: AwareDatetime | None = None
    efficiency: float
    proofs: dict[int, Proof]
    troubled: dict[int, Report] = {}
    filled: dict[int, Hopper] = {}
    hoppers: dict[int, Hopper] = {}
    now: dict[str, Value] = {}
    look: LookSet | None = None
    doubts: tuple[Doubted, ...] = ()
    rates: tuple[RateFound, ...] = ()

    @property
    def rows(self) -> tuple[int, ...]:
        """The rows in use."""
        return tuple(sorted(self.proofs))


def begin(fact: ShiftStarted) -> Shift:
    """A shift at its beginning: every row in use counts as seen to feed."""
    start = Proof(at=fact.at)
    hoppers = {row: Hopper(mass=mass, planted=NOTHING) for row, mass in fact.hoppers.items()}
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
            return shift.model_copy(update={"doubts": (*shift.doubts, fact)})
        case LookSet():
            return shift.model_copy(update={"look": fact})
        case RateFound():
            return shift.model_copy(update={"rates": (*shift.rates, fact)})
        case _:
            assert_never(fact)


def _note(shift: Shift, fact: Noted) -> Shift:
    mark = Proof(at=fact.at, worked=fact.worked, planted=fact.planted)
    changes: dict[str, object] = {"mark": mark, **_moment(fact, mark)}
    if fact.efficiency is not None:
        changes["efficiency"] = fact.efficiency
    if fact.report in _PROVED:
        changes["proofs"] = {**shift.proofs, **dict.fromkeys(fact.rows, mark)}
        changes["troubled"] = {row: what for row, what in shift.troubled.items() if row not in fact.rows}
    elif fact.report in (Report.STOPPED, Report.HIGH):
        changes["troubled"] = {**shift.troubled, **dict.fromkeys(fact.rows, fact.report)}
    hoppers = {row: Hopper(mass=mass, planted=fact.planted) for row, mass in fact.hoppers.items()}
    changes["hoppers"] = {**shift.hoppers, **hoppers}
    if fact.report is Report.REFILLED:
        changes["filled"] = {**shift.filled, **hoppers}
    named = _NAMED.get(fact.report)
    given = {named: fact.value} if named else {}
    lot = {"lot": fact.lot} if fact.lot else {}
    changes["now"] = {**shift.now, **{name: value for name, value in {**given, **lot}.items() if value is not None}}
    return shift.model_copy(update=changes)


def _moment(fact: Noted, mark: Proof) -> dict[str, object]:
    """What a report makes of the clock: a look, a pause, a snooze, an area that is known."""
    if fact.report in _LOOKED:
        return {"looked": mark, "snoozed": None}
    match fact.report:
        case Report.PLANTED:
            return {"measured": mark}
        case Report.PAUSED:
            return {"paused": True}
        case Report.WENT_ON:
            return {"paused": False}
        case Report.ENDED:
            return {"ended": True}
        case Report.SNOOZED if isinstance(fact.value, Measure):
            return {"snoozed": fact.at + _seconds(fact.value)}
        case _:
            return {}


def _seconds(length: Measure) -> timedelta:
    return timedelta(seconds=length.to("s").value)
