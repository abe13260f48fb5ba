"""The mass balance of a shift: what left the hoppers over the area planted, against the rate that was calibrated."""

from __future__ import annotations

import math

from engine.calculations.domain import number, tolerance_of
from engine.calculations.hoppers.drawdown import drawdown, rate_check
from engine.calculations.hoppers.use import (
    RATE_DOUBT,
    RowUse,
    certainty,
    expected_use,
    row_use,
    share_of_others,
    use_doubt,
)
from engine.calculations.kinds import Mass
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Role
from engine.messages import Reported
from engine.quantities import Measure, Quantity, measure, quantity
from engine.shift.record.shift_facts import Noted, RateFound
from engine.shift.record.shift_fold import advance
from engine.shift.record.shift_ledger import Basis, Round, in_pounds, pounds
from engine.shift.record.timeline import Timeline
from engine.shift.reports.feeding import TOLERANCE
from engine.shift.reports.label_reports import guard
from engine.shift.turn import ShiftTurn

LEAST_AREA = Measure(value=0.05, unit="acre")
"""What was used over a smaller area is not worked with."""
AREA_DOUBT = 0.02
"""Share by which a reported area is unsure. Common practice, no source."""
CLOCK_DOUBT = 0.10
"""Share by which an area is unsure that speed, width and clock alone tell: field efficiency is 50 to 75 %, typically
65 % (ASAE-D497), taken as four standard deviations."""
ON_CLOCK = 0.25
"""From this share of the area on that nobody reported, the rate is told as one by the clock (own decision)."""
MOST = 0.9
FEWEST = 3
FAR = 0.5
"""A rate so far off is asked before what it rests on is kept [1] (own decision)."""


def balance(turn: ShiftTurn) -> None:
    """Work out the true rate once the level of every hopper is known, and name a row that uses less than the others."""
    ledger = turn.shift.ledger
    new = ledger.round
    if new is None or new.used is None:
        return
    again = _is_small(new, turn.timeline)
    if again and not ledger.rounds:
        return
    found = _found(turn, ledger.rounds[-1].then(new) if again else new)
    if found is not None:
        _tell(turn, found.model_copy(update={"corrects": again}))


def correct(turn: ShiftTurn) -> None:
    """Work out the last rate once more where its area was that of the clock and has now been told, or is another by the
    clock as well."""
    rounds, rates = turn.shift.ledger.rounds, turn.shift.rates
    if not rates or not rounds or not rates[-1].reckoned:
        return
    found = _found(turn, rounds[-1])
    moved = found and not math.isclose(in_acres(found.area), in_acres(rates[-1].area), rel_tol=1e-9)
    if found is not None and (moved or not found.reckoned):
        _tell(turn, found.model_copy(update={"corrects": True}))


def far_off(turn: ShiftTurn, told: Reported, fact: Noted) -> bool:
    """Whether what is told would make a rate that can hardly be; asks before it is kept."""
    after = advance(turn.shift, fact)
    new = after.ledger.round
    if new is None or new.used is None or _is_small(new, turn.timeline):
        return False
    found = _found(turn, new)
    if found is None:
        return False
    off = found.off.to("1").value
    if abs(off) < FAR:
        return False
    rate = turn.rough(found.rate)
    turn.ask(SystemKey.SHIFT_FAR_OFF, told, said=told.said, rate=rate, off=turn.builder.wording.off(found.off))
    return True


def _tell(turn: ShiftTurn, found: RateFound) -> None:
    turn.builder.add(found)
    used, area, rate = (turn.rough(one) for one in (found.used, found.area, found.rate))
    by = SystemKey.SHIFT_USED_CLOCK if found.reckoned else SystemKey.SHIFT_USED
    turn.say(by, used=used, area=area, rate=rate, off=turn.builder.wording.off(found.off))
    _tell_whole(turn)
    if guard(turn, found.rate, found.rows):
        return
    turn.say(SystemKey.SHIFT_USED_FINE if found.outcome == "on_target" else SystemKey.SHIFT_USED_OFF)
    for row in found.odd:
        sure = certainty(quantity(found.chances[row], "1"))
        odd = SystemKey.SHIFT_ROW_USED_SURELY if sure.over else SystemKey.SHIFT_ROW_USED
        share = turn.builder.wording.amount(Measure(value=found.delivered[row] * 100, unit="%"), 0)
        told = turn.builder.wording.amount(Measure(value=sure.percent, unit="%"), 0)
        turn.say(odd, row=str(row), share=share, sure=told)


def _tell_whole(turn: ShiftTurn) -> None:
    """The books of the whole shift, from its beginning to its last levels, where it was weighed more than once; nothing
    where something was added that nobody weighed, or nothing was planted."""
    whole = turn.shift.ledger.whole if len(turn.shift.ledger.rounds) > 1 else None
    found = _found(turn, whole) if whole else None
    if whole is None or found is None:
        return
    loaded, left = (
        turn.rough(pounds(sum(in_pounds(one.mass) for one in ends)))
        for ends in zip(*((one.start, one.end) for one in whole.intervals.values()), strict=True)
    )
    added, used, area, rate = (turn.rough(one) for one in (whole.added, found.used, found.area, found.rate))
    off = turn.builder.wording.off(found.off)
    turn.say(SystemKey.SHIFT_WHOLE, loaded=loaded, added=added, left=left, used=used, area=area, rate=rate, off=off)


def in_acres(area: Measure) -> float:
    return area.to("acre").value


def _is_small(found: Round, timeline: Timeline) -> bool:
    return in_acres(found.over(timeline.between)) < in_acres(LEAST_AREA)


# ---------------------------------------------------------------- the true rate


def _found(turn: ShiftTurn, found: Round) -> RateFound | None:
    """The true rate of a round; None where nothing left the hoppers or nothing was planted."""
    used, area = found.used, found.over(turn.timeline.between)
    if used is None or used.value <= 0 or area.value <= 0:
        return None
    clock = _on_clock(turn, found)
    rate = drawdown(used.quantity, quantity(0, "lb"), area.quantity)
    allowed = quantity(_allowed(turn, found, used, clock), "1")
    check = rate_check(rate, turn.plan.area_rate(turn.shift), turn.plan.spacing, allowed)
    compared = _compared(turn, found, clock)
    return RateFound(
        at=turn.now,
        area=area,
        used=used,
        rate=measure(rate, "lb/acre"),
        off=measure(check.off, "%"),
        outcome=check.outcome,
        rows=_row_rates(turn, found),
        reckoned=clock > ON_CLOCK,
        basis=_basis(found),
        **compared,
    )


def _areas(turn: ShiftTurn, found: Round) -> dict[int, float]:
    """Acres of the machine between the two levels of each hopper."""
    return {row: in_acres(turn.timeline.between(one.start.at, one.end.at)) for row, one in found.intervals.items()}


def _row_rates(turn: ShiftTurn, found: Round) -> dict[int, Measure]:
    """Rates of the rows that were told by themselves: each did its share of the area."""
    count = len(found.intervals)
    areas = _areas(turn, found)
    own = {row: mass for row, mass in sorted(found.own.items()) if areas[row] > 0}
    return {row: Measure(value=in_pounds(mass) * count / areas[row], unit="lb/acre") for row, mass in own.items()}


def _basis(found: Round) -> Basis:
    ends = {one.end.basis for one in found.intervals.values()} | {one.start.basis for one in found.intervals.values()}
    return next((one for one in (Basis.ASSUMED, Basis.RECKONED, Basis.TOLD) if one in ends), Basis.MEASURED)


def _on_clock(turn: ShiftTurn, found: Round) -> float:
    """Share of the area that nobody reported."""
    told = turn.shift.told[-1].at if turn.shift.told else turn.shift.started
    whole = sum(in_acres(turn.timeline.between(one.start.at, one.end.at)) for one in found.intervals.values())
    unsaid = sum(
        in_acres(turn.timeline.between(max(one.start.at, told), one.end.at)) for one in found.intervals.values()
    )
    return unsaid / whole if whole > 0 else 1.0


def _doubt(clock: float) -> float:
    """Standard deviation of the area, as a share of it."""
    return math.hypot(AREA_DOUBT, CLOCK_DOUBT * clock)


def _allowed(turn: ShiftTurn, found: Round, used: Measure, clock: float) -> float:
    """What calibration, reading of the hoppers and the area may together differ by, as a share."""
    tolerance = tolerance_of((turn.plan.measure(Role.TOLERANCE) or TOLERANCE).quantity)
    reading = number(_reading(turn, 1) * math.sqrt(len(found.intervals)) / used.quantity)
    return min(math.hypot(tolerance, 2 * reading, 2 * _doubt(clock)), MOST)


def _reading(turn: ShiftTurn, refills: int) -> Mass:
    """Standard deviation of what one hopper used."""
    full = max(in_pounds(turn.shift.filled[row].mass) for row in turn.shift.rows)
    return use_doubt(quantity(full, "lb"), refills)


def _compared(turn: ShiftTurn, found: Round, clock: float) -> dict[str, object]:
    """How likely each row is to under-feed, and those that are named, by this use and with the one before it; nothing
    where hoppers were told as one."""
    told = len(found.own) == len(found.intervals) >= FEWEST
    if not told or min(_areas(turn, found).values()) <= 0:
        return {}
    rounds = [(found, 1)]
    before = next((one for one in reversed(turn.shift.ledger.rounds) if one is not found), None)
    if before is not None and len(before.own) == len(found.own):
        rounds.append((before.then(found), 2))
    uses = [_use(turn, one, clock, refills) for one, refills in rounds]
    odd = {one.row for one in uses if one.outcome == "under_feeds"}
    used = {row: one.quantity for row, one in found.own.items()}
    return {
        "chances": {row: max(number(one.probabilities[row]) for one in uses) for row in found.intervals},
        "odd": tuple(sorted(odd)),
        "delivered": {row: number(share_of_others(used, row)) for row in odd},
    }


def _use(turn: ShiftTurn, found: Round, clock: float, refills: int) -> RowUse:
    area = found.over(turn.timeline.between)
    areas = _areas(turn, found)
    level = {
        row: quantity(max(in_pounds(mass), 0.0) * in_acres(area) / areas[row], "lb") for row, mass in found.own.items()
    }
    expected = expected_use(area.quantity, turn.plan.area_rate(turn.shift), turn.plan.spacing, len(found.intervals))
    shared: Quantity = quantity(math.hypot(number(RATE_DOUBT), _doubt(clock)), "1")
    return row_use(level, expected, _reading(turn, refills), rate_doubt=shared)
