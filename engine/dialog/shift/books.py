"""The books of a shift: what left the hoppers over the area planted, against the rate that was calibrated."""

from __future__ import annotations

import math
from collections.abc import Mapping

from engine.calculations.domain import number, tolerance_of
from engine.calculations.drawdown import drawdown, rate_check
from engine.calculations.kinds import Mass
from engine.calculations.use import RATE_DOUBT, RowUse, expected_use, row_use, use_doubt
from engine.dialog.house import Key
from engine.dialog.roles import Role
from engine.dialog.shift.fact import RateFound, Use
from engine.dialog.shift.feeding import TOLERANCE
from engine.dialog.shift.log import Log
from engine.quantities import Measure, Quantity, measure, quantity

AREA_DOUBT = 0.02
"""Share by which a reported area is unsure. Common practice, no source."""
CLOCK_DOUBT = 0.10
"""Share by which an area is unsure that speed, width and clock alone tell: field efficiency is 50 to 75 %, typically
65 % (ASAE-D497), taken as four standard deviations."""
ON_CLOCK = 0.25
"""From this share of the area on that nobody reported, the rate is told as one by the clock (own decision)."""
MOST = 0.9
FEWEST = 3


def balance(log: Log) -> None:
    """Work out the true rate once the use of every hopper is known, and name a row that uses less than the others."""
    shift, rows = log.shift, log.shift.rows
    uses = {row: shift.uses[row] for row in rows if row in shift.uses}
    if not rows or len(uses) < len(rows) or sum(use.mass.value for use in uses.values()) <= 0:
        return
    found = _found(log, uses, shift.weighed)
    log.walk.add(found)
    _say(log, found)


def correct(log: Log, *, by_clock: bool = False) -> None:
    """Work out the last rate once more where its area was that of the clock and has now been told, or, ``by_clock``,
    is another by the clock as well."""
    shift = log.shift
    if not shift.rates or not shift.rates[-1].reckoned or _area(shift.weighed) <= 0:
        return
    found = _found(log, shift.weighed, shift.earlier).model_copy(update={"corrects": True})
    if not found.reckoned or (by_clock and found.area != shift.rates[-1].area):
        log.walk.add(found)
        _say(log, found)


def _say(log: Log, found: RateFound) -> None:
    used, area, rate = (log.rough(one) for one in (found.used, found.area, found.rate))
    key = Key.SHIFT_USED_CLOCK if found.reckoned else Key.SHIFT_USED
    log.say(key, used=used, area=area, rate=rate, off=log.walk.wording.off(found.off))
    log.say(Key.SHIFT_USED_FINE if found.outcome == "on_target" else Key.SHIFT_USED_OFF)
    for row in found.odd:
        part = found.rows[row].value / (sum(one.value for one in found.rows.values()) / len(found.rows))
        sure = log.walk.wording.amount(Measure(value=found.chances[row] * 100, unit="%"), 0)
        share = log.walk.wording.amount(Measure(value=part * 100, unit="%"), 0)
        log.say(Key.SHIFT_ROW_USED, row=str(row), share=share, sure=sure)


def _found(log: Log, uses: Mapping[int, Use], before: Mapping[int, Use]) -> RateFound:
    clock = _on_clock(log, uses)
    used = quantity(sum(use.mass.to("lb").value for use in uses.values()), "lb")
    area = quantity(_area(uses), "acre")
    rate = drawdown(used, quantity(0, "lb"), area)
    allowed = quantity(_allowed(log, uses, clock), "1")
    check = rate_check(rate, log.plan.area_rate(log.shift), log.plan.spacing, allowed)
    each = {row: use.mass.value / (use.area.value / len(uses)) for row, use in uses.items()}
    chances, odd = _odd(log, uses, before, clock)
    return RateFound(
        at=log.mark.at,
        area=measure(area, "acre"),
        used=measure(used, "lb"),
        rate=measure(rate, "lb/acre"),
        off=measure(check.off, "%"),
        outcome=check.outcome,
        rows={row: Measure(value=one, unit="lb/acre") for row, one in each.items()},
        chances=chances,
        odd=odd,
        reckoned=clock > ON_CLOCK,
    )


def _area(uses: Mapping[int, Use]) -> float:
    return sum(use.area.to("acre").value for use in uses.values()) / len(uses)


def _on_clock(log: Log, uses: Mapping[int, Use]) -> float:
    """Share of the area that nobody reported."""
    told = log.shift.measured.planted.value
    unsaid = sum(min(max(use.since.value + use.area.value - told, 0.0), use.area.value) for use in uses.values())
    return unsaid / sum(use.area.value for use in uses.values())


def _doubt(clock: float) -> float:
    """Standard deviation of the area, as a share of it."""
    return math.hypot(AREA_DOUBT, CLOCK_DOUBT * clock)


def _allowed(log: Log, uses: Mapping[int, Use], clock: float) -> float:
    """What calibration, reading of the hoppers and the area may together differ by, as a share."""
    tolerance = tolerance_of((log.plan.measure(Role.TOLERANCE) or TOLERANCE).quantity)
    total = quantity(sum(use.mass.to("lb").value for use in uses.values()), "lb")
    reading = number(_reading(log, 1) * math.sqrt(len(uses)) / total)
    return min(math.hypot(tolerance, 2 * reading, 2 * _doubt(clock)), MOST)


def _reading(log: Log, refills: int) -> Mass:
    """Standard deviation of what one hopper used."""
    full = max(log.shift.filled[row].mass.to("lb").value for row in log.shift.rows)
    return use_doubt(quantity(full, "lb"), refills)


def _odd(
    log: Log, uses: Mapping[int, Use], before: Mapping[int, Use], clock: float
) -> tuple[dict[int, float], tuple[int, ...]]:
    """How likely each row is to under-feed, and those that are named, by this use and with the one before it; nothing
    where they were told as one."""
    if len(uses) < FEWEST or not all(use.own for use in uses.values()):
        return {}, ()
    found = [_compared(log, uses, clock, 1)]
    if all(row in before and before[row].own for row in uses):
        found.append(_compared(log, {row: _sum(use, before[row]) for row, use in uses.items()}, clock, 2))
    chances = {row: max(number(one.probabilities[row]) for one in found) for row in uses}
    return chances, tuple(sorted({one.row for one in found if one.outcome == "under_feeds"}))


def _compared(log: Log, uses: Mapping[int, Use], clock: float, refills: int) -> RowUse:
    area = _area(uses)
    level = {row: quantity(use.mass.value * area / use.area.value, "lb") for row, use in uses.items()}
    expected = expected_use(quantity(area, "acre"), log.plan.area_rate(log.shift), log.plan.spacing, len(uses))
    shared: Quantity = quantity(math.hypot(number(RATE_DOUBT), _doubt(clock)), "1")
    return row_use(level, expected, _reading(log, refills), rate_doubt=shared)


def _sum(one: Use, other: Use) -> Use:
    mass, area = one.mass.to("lb").value + other.mass.to("lb").value, one.area.value + other.area.value
    return Use(mass=Measure(value=mass, unit="lb"), area=Measure(value=area, unit="acre"), since=other.since, own=True)
