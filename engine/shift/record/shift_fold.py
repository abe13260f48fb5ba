"""The fold of the facts of a shift: its state after each of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from typing import TypeVar, assert_never

from engine.dialog.activity import Load, folds
from engine.dialog.facts.role_values import as_word
from engine.messages import Report
from engine.quantities import Dimension, Measure
from engine.shift.record.shift_facts import Doubted, LookSet, Noted, OverLabel, RateFound, ShiftStarted
from engine.shift.record.shift_ledger import HopperLedger, in_pounds, pounds
from engine.shift.record.shift_names import KINDS, LOT, Named, called
from engine.shift.record.shift_state import CALLED, FINISHED, LOOKED, NAMED, ShiftState
from engine.shift.record.timeline import AreaTold, Driven, Pause
from engine.values import Value

T = TypeVar("T", AreaTold, Driven)
_WRONG = frozenset({Report.STOPPED, Report.HIGH})
_MENDED = frozenset({Report.GOOD, Report.DROPPING, Report.RUNS, Report.CAUGHT})


ShiftFact = ShiftStarted | Noted | Doubted | LookSet | RateFound | OverLabel


@folds(ShiftStarted, Noted, Doubted, LookSet, RateFound, OverLabel)
def advance(shift: ShiftState | None, fact: ShiftFact) -> ShiftState:
    """The shift after one more fact."""
    if isinstance(fact, ShiftStarted):
        return begin(fact)
    if shift is None:
        raise ValueError(f"{fact.kind} outside a shift")
    match fact:
        case Noted():
            return _noted(shift, fact)
        case Doubted():
            return _doubted(shift, fact)
        case LookSet():
            return shift.model_copy(update={"look": fact})
        case RateFound():
            return _found(shift, fact)
        case OverLabel():
            return shift.model_copy(update={"over": fact})
        case _:
            assert_never(fact)


def begin(fact: ShiftStarted) -> ShiftState:
    """A shift at its beginning: every row in use counts as seen to feed."""
    if fact.spacing is None or fact.rate is None or fact.speed is None:
        raise ValueError("a shift begins with a speed, a spacing and a rate")
    ledger = HopperLedger.of(fact.hoppers, fact.at)
    return ShiftState(
        started=fact.at,
        last=fact.at,
        calibrations=fact.calibrations,
        believed=fact.efficiency,
        spacing=fact.spacing,
        rate=fact.rate,
        speeds=(Driven(at=fact.at, speed=fact.speed),),
        efficiency=fact.efficiency,
        ledger=ledger,
        poured=(Load(lot=_lot(fact.now), mass=_total(fact.hoppers)),),
        filled={row: account.level for row, account in ledger.accounts.items()},
        looked=fact.at,
        proofs=dict.fromkeys(fact.hoppers, fact.at),
        now=fact.now,
        names=tuple(
            Named(at=fact.at, name=one, value=said) for one in KINDS if isinstance(said := fact.now.get(one), str)
        ),
        entered=fact.at,
        over=fact.over,
        pauses=(Pause(since=fact.at),) if fact.over else (),
    )


def _noted(shift: ShiftState, fact: Noted) -> ShiftState:
    named = NAMED.get(fact.report)
    given = {**({named: fact.value} if named else {}), **({"lot": fact.lot} if fact.lot else {})}
    ledger = _booked(shift.ledger, fact)
    filled = {row: ledger.accounts[row].level for row in fact.rows} if fact.report is Report.REFILLED else {}
    changes = {
        "last": max(shift.last, fact.at),
        "efficiency": shift.efficiency if fact.efficiency is None else fact.efficiency,
        "proofs": {**shift.proofs, **_proved(shift, fact)},
        "stretches": _stretches(shift, fact),
        "dated": _dated(shift, fact),
        "naming": fact.report if fact.report in CALLED and fact.value is None else None,
        "troubled": _troubled(shift, fact),
        "ledger": ledger,
        "poured": _poured(shift, fact),
        "filled": {**shift.filled, **filled},
        "fills": shift.fills if fact.full is None else fact.full,
        "now": {**shift.now, **{name: value for name, value in given.items() if value is not None}},
        "names": _named(shift, fact),
    }
    return shift.model_copy(update={**changes, **_moment(shift, fact)})


def _poured(shift: ShiftState, fact: Noted) -> tuple[Load, ...]:
    """With what a refill brought in; of several hoppers together it is known as well as of one."""
    if fact.report is not Report.REFILLED:
        return shift.poured
    masses = [*fact.added.values(), *([fact.poured] if fact.poured is not None else [])]
    lot = fact.lot or _lot(shift.now)
    return (*shift.poured, Load(lot=lot, mass=_total(dict(enumerate(masses))), weighed=bool(masses)))


def _lot(now: Mapping[str, Value]) -> str | None:
    return as_word(now.get(str(Report.LOT)))


def _total(masses: Mapping[int, Measure]) -> Measure:
    return pounds(sum(in_pounds(one) for one in masses.values()))


def _named(shift: ShiftState, fact: Noted) -> tuple[Named, ...]:
    """The names with what a report calls a field, a product or a lot."""
    names, kind = shift.names, NAMED.get(fact.report, "")
    if kind in KINDS:
        names = called(names, kind, fact.when, as_word(fact.value), late=shift.naming is fact.report)
    return called(names, LOT, fact.when, fact.lot) if fact.lot and kind != LOT else names


def _booked(ledger: HopperLedger, fact: Noted) -> HopperLedger:
    """What went in comes before what the hoppers hold after it."""
    if fact.added:
        ledger = ledger.adding(fact.added)
    if fact.poured is not None:
        ledger = ledger.pouring(fact.poured, fact.rows)
    if fact.report is Report.REFILLED and not fact.added and fact.poured is None:
        ledger = ledger.unweighed(fact.rows)
    return ledger.reading(fact.levels) if fact.levels else ledger


def _proved(shift: ShiftState, fact: Noted) -> dict[int, datetime]:
    """A moment at which the operator himself says that a row went wrong stands against any proof."""
    if fact.report in _WRONG:
        return dict(fact.proofs)
    return {row: max(shift.proofs[row], at) for row, at in fact.proofs.items()}


def _stretches(shift: ShiftState, fact: Noted) -> dict[int, datetime]:
    """A row that goes wrong anew begins another stretch."""
    anew = {row for row in fact.rows if row not in shift.troubled} if fact.report in _WRONG else set()
    return {row: since for row, since in shift.stretches.items() if row not in anew}


def _dated(shift: ShiftState, fact: Noted) -> tuple[int, ...]:
    if fact.report not in _WRONG:
        return shift.dated
    kept = {row for row in shift.dated if row in shift.troubled or row not in fact.rows}
    return tuple(sorted(kept | fact.proofs.keys()))


def _troubled(shift: ShiftState, fact: Noted) -> dict[int, Report]:
    if fact.report in _WRONG:
        return shift.troubled if fact.until else {**shift.troubled, **dict.fromkeys(fact.rows, fact.report)}
    mended = fact.proofs if fact.report is Report.CAUGHT else fact.rows
    return {row: what for row, what in shift.troubled.items() if fact.report not in _MENDED or row not in mended}


def _doubted(shift: ShiftState, fact: Doubted) -> ShiftState:
    told = {(fact.rows, fact.since), (fact.rows, fact.instead)}
    doubts = (*(one for one in shift.doubts if (one.rows, one.since) not in told), fact)
    return shift.model_copy(
        update={"doubts": doubts, "stretches": {**shift.stretches, **dict.fromkeys(fact.rows, fact.since)}}
    )


def _found(shift: ShiftState, fact: RateFound) -> ShiftState:
    """A rate closes a round of the ledger; where it only reads the last one anew, it takes its place."""
    again = fact.corrects and bool(shift.ledger.rounds)
    rates = (*shift.rates[:-1], fact) if fact.corrects else (*shift.rates, fact)
    return shift.model_copy(update={"rates": rates, "ledger": shift.ledger.closing(again=again)})


# ---------------------------------------------------------------- what a report makes of time


def _moment(shift: ShiftState, fact: Noted) -> dict[str, object]:
    """What a report makes of the moment: a look, another field, a look put off, how often to look, a decision."""
    if fact.report in LOOKED:
        return {"looked": _look(shift, fact), "snoozed": None}
    match fact.report:
        case Report.FIELD if shift.naming is Report.FIELD or fact.value == shift.now.get("field", ""):
            return {"size": fact.size or shift.size}
        case Report.FIELD:
            return {"moved": True, "entered": fact.when, "size": fact.size}
        case Report.SNOOZED if isinstance(fact.value, Measure):
            return {"snoozed": fact.at + timedelta(seconds=fact.value.to("s").value)}
        case Report.LOOKS if isinstance(fact.value, Measure) and fact.value.dimension is Dimension.TIME:
            return {"longest": fact.value}
        case Report.LOOKS:
            return {"looks": fact.value}
        case Report.DECIDED:
            return {"over": None}
        case _:
            return _clocked(shift, fact)


def _clocked(shift: ShiftState, fact: Noted) -> dict[str, object]:
    """What a report makes of the timeline: an area that is known, a speed, a pause, going on, the end."""
    match fact.report:
        case Report.PLANTED if isinstance(fact.value, Measure):
            told = [one for one in shift.told if one.at != fact.when]
            return {"told": _in_order([*told, AreaTold(at=fact.when, area=fact.value)])}
        case Report.SPEED if isinstance(fact.value, Measure):
            speeds = [one for one in shift.speeds if one.at != fact.when]
            ordered = _in_order([*speeds, Driven(at=fact.when, speed=fact.value)])
            return {"speeds": ordered, "now": {**shift.now, "speed": ordered[-1].speed}}
        case Report.PAUSED if fact.until is not None:
            return {"pauses": stopped(shift.pauses, Pause(since=fact.when, until=fact.until))}
        case Report.PAUSED:
            return {"pauses": stopped(shift.pauses, Pause(since=fact.when)), "snoozed": None}
        case Report.ENDED:
            pauses = stopped(shift.pauses, Pause(since=fact.when)) if shift.runs or fact.moment else shift.pauses
            return {"closing": True, "snoozed": None, "ended": fact.value == FINISHED, "pauses": pauses}
        case Report.WENT_ON:
            ended = tuple(one if one.until else one.model_copy(update={"until": fact.when}) for one in shift.pauses)
            return {"pauses": tuple(one for one in ended if one.until != one.since), "closing": False}
        case Report.CLOCK if isinstance(fact.value, Measure):
            return {"ahead": fact.value.to("s").value}
        case _:
            return {}


def stopped(pauses: Iterable[Pause], new: Pause) -> tuple[Pause, ...]:
    """Pauses with one more; those that touch are one."""
    apart: list[Pause] = []
    for one in sorted([*pauses, new], key=lambda pause: pause.since):
        before = apart[-1] if apart else None
        if before is None or (before.until is not None and before.until < one.since):
            apart.append(one)
        elif before.until is not None:
            until = None if one.until is None else max(before.until, one.until)
            apart[-1] = before.model_copy(update={"until": until})
    return tuple(apart)


def _in_order(events: Iterable[T]) -> tuple[T, ...]:
    return tuple(sorted(events, key=lambda one: one.at))


def _look(shift: ShiftState, fact: Noted) -> datetime:
    """Hoppers that were filled in the past were looked at then; who sees a row stand looks at it now."""
    if fact.moment is None or fact.report in _WRONG:
        return max(shift.looked, fact.at)
    return max(shift.looked, fact.moment)
