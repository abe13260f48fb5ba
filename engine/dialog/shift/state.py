"""The state of a shift: the fold of its facts, inside the state of its dialog."""

from __future__ import annotations

from datetime import timedelta
from typing import Any, assert_never

from pydantic import AwareDatetime

from engine.dialog.shift.fact import NOTHING, Doubted, LookSet, Noted, Proof, RateFound, ShiftStarted, Use
from engine.messages import Message, Report
from engine.quantities import Measure
from engine.values import Value

ShiftFact = ShiftStarted | Noted | Doubted | LookSet | RateFound

OVER = "over"
"""The value of the last ENDED report; one before it stops the clock and asks what is left in the hoppers."""
_MENDED = frozenset({Report.GOOD, Report.RUNS, Report.CAUGHT})
LOOKED = frozenset({Report.GOOD, Report.HIGH, Report.STOPPED, Report.LEFT, Report.LEVEL, Report.REFILLED})
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


class Hopper(Message):
    """What a hopper held, and the area planted by then."""

    mass: Measure
    planted: Measure


class Shift(Message):
    """Where a shift stands.

    ``mark`` is the last moment whose area and time are known, from which on they are reckoned while it is not
    ``paused`` or ``closing``; ``measured`` the last whose area the operator said; ``looked`` the last look.
    ``proofs`` is when each row was last known to feed, ``troubled`` the rows that stopped or stay high. ``filled`` is
    what each hopper held when it was last filled, ``hoppers`` the same as last known, ``uses`` what they used meanwhile
    where that is known; ``now`` what is planted with.
    """

    started: AwareDatetime
    mark: Proof
    measured: Proof
    looked: Proof
    paused: bool = False
    closing: bool = False
    ended: bool = False
    snoozed: AwareDatetime | None = None
    efficiency: float
    proofs: dict[int, Proof]
    troubled: dict[int, Report] = {}
    filled: dict[int, Hopper] = {}
    hoppers: dict[int, Hopper] = {}
    uses: dict[int, Use] = {}
    now: dict[str, Value] = {}
    look: LookSet | None = None
    doubts: tuple[Doubted, ...] = ()
    rates: tuple[RateFound, ...] = ()

    @property
    def runs(self) -> bool:
        """Whether the planter is planting."""
        return not (self.paused or self.closing)

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
            before = tuple(one for one in shift.doubts if (one.rows, one.since) != (fact.rows, fact.since))
            return shift.model_copy(update={"doubts": (*before, fact)})
        case LookSet():
            return shift.model_copy(update={"look": fact})
        case RateFound():
            return shift.model_copy(update={"rates": (*shift.rates, fact), "uses": {}})
        case _:
            assert_never(fact)


def _note(shift: Shift, fact: Noted) -> Shift:
    shift = _capped(shift, fact.mark.planted)
    hoppers = {row: Hopper(mass=mass, planted=fact.mark.planted) for row, mass in fact.hoppers.items()}
    named = _NAMED.get(fact.report)
    given = {**({named: fact.value} if named else {}), **({"lot": fact.lot} if fact.lot else {})}
    changes = {
        "mark": fact.mark,
        "efficiency": shift.efficiency if fact.efficiency is None else fact.efficiency,
        "proofs": {**shift.proofs, **{row: _later(shift.proofs.get(row), one) for row, one in fact.proofs.items()}},
        "troubled": _troubled(shift, fact),
        "hoppers": {**shift.hoppers, **hoppers},
        "filled": {**shift.filled, **hoppers} if fact.report is Report.REFILLED else shift.filled,
        "uses": {**shift.uses, **fact.uses},
        "now": {**shift.now, **{name: value for name, value in given.items() if value is not None}},
    }
    return shift.model_copy(update={**changes, **_moment(fact)})


def _later(before: Proof | None, proof: Proof) -> Proof:
    """Of two proofs the one that reaches farther."""
    return before if before and before.planted.value > proof.planted.to("acre").value else proof


def _troubled(shift: Shift, fact: Noted) -> dict[int, Report]:
    if fact.report in (Report.STOPPED, Report.HIGH):
        return {**shift.troubled, **dict.fromkeys(fact.rows, fact.report)}
    mended = fact.rows if fact.report in (Report.GOOD, Report.RUNS) else fact.proofs
    return {row: what for row, what in shift.troubled.items() if fact.report not in _MENDED or row not in mended}


def _capped(shift: Shift, planted: Measure) -> Shift:
    """Nothing lies beyond what is now known to be planted, where the operator said less than was reckoned."""
    if planted.value >= shift.mark.planted.value:
        return shift

    def within(one: Any) -> Any:
        return one.model_copy(update={"planted": planted}) if one.planted.value > planted.value else one

    return shift.model_copy(
        update={
            "looked": within(shift.looked),
            "proofs": {row: within(one) for row, one in shift.proofs.items()},
            "filled": {row: within(one) for row, one in shift.filled.items()},
            "hoppers": {row: within(one) for row, one in shift.hoppers.items()},
        }
    )


def _moment(fact: Noted) -> dict[str, object]:
    """What a report makes of the clock: a look, a pause, a snooze, an area that is known."""
    if fact.report in LOOKED:
        return {"looked": fact.mark, "snoozed": None}
    match fact.report:
        case Report.PLANTED:
            return {"measured": fact.mark}
        case Report.PAUSED:
            return {"paused": True, "snoozed": None}
        case Report.WENT_ON:
            return {"paused": False, "closing": False}
        case Report.ENDED:
            return {"closing": True, "snoozed": None, "ended": fact.value == OVER}
        case Report.SNOOZED if isinstance(fact.value, Measure):
            return {"snoozed": fact.mark.at + _seconds(fact.value)}
        case _:
            return {}


def _seconds(length: Measure) -> timedelta:
    return timedelta(seconds=length.to("s").value)
