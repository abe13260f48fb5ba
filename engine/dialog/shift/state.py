"""The state of a shift: the fold of its facts, inside the state of its dialog."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any, assert_never

from pydantic import AwareDatetime

from engine.dialog.shift.fact import NOTHING, Doubted, LookSet, Noted, Proof, RateFound, ShiftStarted, Use
from engine.messages import Message, Report
from engine.quantities import Measure
from engine.values import Value

ShiftFact = ShiftStarted | Noted | Doubted | LookSet | RateFound

OVER = "over"
"""The value of the last ENDED report; one before it stops the clock and asks what is left in the hoppers."""
_WRONG = frozenset({Report.STOPPED, Report.HIGH})
_MENDED = frozenset({Report.GOOD, Report.RUNS, Report.CAUGHT})
LOOKED = frozenset({Report.GOOD, Report.HIGH, Report.STOPPED, Report.LEFT, Report.LEVEL, Report.REFILLED})
"""Reports by somebody who looked at the hoppers."""
NAMED = {
    Report.SPEED: "speed",
    Report.RATE: "rate",
    Report.PRODUCT: "product",
    Report.LOT: "lot",
    Report.FIELD: "field",
    Report.HANDED_OVER: "operator",
}
"""What a report changes for the rest of the shift."""
_CALLED = frozenset({Report.HANDED_OVER, Report.PRODUCT, Report.FIELD})
"""Reports with a name that a recogniser does not know."""


LEAST_AREA = Measure(value=0.05, unit="acre")
"""What a hopper used over less is not worked with."""


class Hopper(Message):
    """What a hopper held, the area planted by then, and when."""

    mass: Measure
    planted: Measure
    at: AwareDatetime | None = None


class Shift(Message):
    """Where a shift stands.

    ``mark`` is the last moment whose area and time are known, from which on they are reckoned while it is not
    ``paused`` or ``closing``; ``measured`` the last whose area the operator said; ``looked`` the last look.
    ``proofs`` is when each row was last known to feed, ``troubled`` the rows that stopped or stay high. ``filled`` is
    what each hopper held when it was last filled, ``hoppers`` the same as last known, ``uses`` what they used meanwhile
    where that is known, ``weighed`` those of the last rate found and ``earlier`` those before; ``now`` what is planted
    with; ``moved`` to another field than it began in. ``track`` are the moments that are known, ``resumed`` is when it
    last went on planting and ``stood`` since when it does not; ``stretches`` is since when each row was last in doubt,
    ``dated`` the rows of which the operator said when they went wrong. ``naming`` was told without its name.
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
    weighed: dict[int, Use] = {}
    earlier: dict[int, Use] = {}
    now: dict[str, Value] = {}
    moved: bool = False
    look: LookSet | None = None
    track: tuple[Proof, ...] = ()
    resumed: AwareDatetime | None = None
    stood: AwareDatetime | None = None
    stretches: dict[int, AwareDatetime] = {}
    dated: tuple[int, ...] = ()
    naming: Report | None = None
    doubts: tuple[Doubted, ...] = ()
    rates: tuple[RateFound, ...] = ()

    @property
    def runs(self) -> bool:
        """Whether the planter is planting."""
        return not (self.paused or self.closing)

    @property
    def planting_since(self) -> datetime:
        """When it began to plant, or last went on."""
        return self.resumed or self.started

    @property
    def rows(self) -> tuple[int, ...]:
        """The rows in use."""
        return tuple(sorted(self.proofs))


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
    shift, when = _turned_back(_set_right(shift, fact), fact.mark), fact.moment or fact.mark
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
        "naming": fact.report if fact.report in _CALLED and fact.value is None else None,
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


def _turned_back(shift: Shift, mark: Proof) -> Shift:
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
    return shift.model_copy(update={**proofs, **hoppers, "uses": dict(_used_by(shift, mark))})


def _used_by(shift: Shift, mark: Proof) -> Iterator[tuple[int, Use]]:
    for row, use in shift.uses.items():
        area = min(use.area.value, mark.planted.value - use.since.value)
        if area >= LEAST_AREA.value:
            yield row, use.model_copy(update={"area": use.area.model_copy(update={"value": area})})


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


def _set_right(shift: Shift, fact: Noted) -> Shift:
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
    return shift.model_copy(update={"looked": moved(shift.looked), "track": track, **rows, **uses})


def _each(rows: dict[int, Any], change: Callable[[Any], Any]) -> dict[int, Any]:
    return {row: change(one) for row, one in rows.items()}


def _moment(shift: Shift, fact: Noted) -> dict[str, object]:
    """What a report makes of the clock: a look, a pause, a snooze, an area that is known."""
    if fact.report in LOOKED:
        return {"looked": _look(shift, fact), "snoozed": None}
    match fact.report:
        case Report.PLANTED:
            return {"measured": fact.mark}
        case Report.PAUSED:
            return {"paused": True, "snoozed": None, "stood": fact.mark.at}
        case Report.FIELD:
            return {"moved": True}
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
