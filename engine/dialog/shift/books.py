"""The books of a shift: what left the hoppers over the area planted, against the rate that was calibrated."""

from __future__ import annotations

import math

from engine.calculations.domain import number, tolerance_of
from engine.calculations.drawdown import drawdown, rate_check
from engine.calculations.use import expected_use, row_use
from engine.dialog.house import Key
from engine.dialog.script import Role
from engine.dialog.shift.fact import RateFound, Use
from engine.dialog.shift.feeding import TOLERANCE, percent
from engine.dialog.shift.hopper import READING
from engine.dialog.shift.log import Log
from engine.quantities import Measure, measure, quantity

AREA_DOUBT = 0.02
"""Share by which a reported area is unsure. Common practice, no source."""
MOST = 0.9
FEWEST = 3


def balance(log: Log) -> None:
    """Work out the true rate once the use of every hopper is known, and name a row that uses less than the others."""
    shift, rows = log.shift, log.shift.rows
    uses = [shift.uses[row] for row in rows if row in shift.uses]
    if not rows or len(uses) < len(rows) or sum(use.mass.value for use in uses) <= 0:
        return
    found = _found(log, uses)
    log.walk.add(found)
    used, area, rate = (log.rough(one) for one in (found.used, found.area, found.rate))
    log.say(Key.SHIFT_USED, used=used, area=area, rate=rate, off=percent(log, found.off.value / 100))
    log.say(Key.SHIFT_USED_FINE if found.outcome == "on_target" else Key.SHIFT_USED_OFF)
    for row in found.odd:
        part = found.rows[row].value / (sum(one.value for one in found.rows.values()) / len(rows))
        sure = log.walk.wording.amount(Measure(value=found.chances[row] * 100, unit="%"), 0)
        share = log.walk.wording.amount(Measure(value=part * 100, unit="%"), 0)
        log.say(Key.SHIFT_ROW_USED, row=str(row), share=share, sure=sure)


def _found(log: Log, uses: list[Use]) -> RateFound:
    rows = log.shift.rows
    used = quantity(sum(use.mass.to("lb").value for use in uses), "lb")
    area = quantity(sum(use.area.to("acre").value for use in uses) / len(rows), "acre")
    rate = drawdown(used, quantity(0, "lb"), area)
    check = rate_check(rate, log.plan.area_rate(log.shift), log.plan.spacing, quantity(_allowed(log, uses), "1"))
    each = {row: use.mass.value / (use.area.value / len(rows)) for row, use in zip(rows, uses, strict=True)}
    chances, odd = _odd(log, uses)
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
    )


def _allowed(log: Log, uses: list[Use]) -> float:
    """What calibration, reading of the hoppers and the area may together differ by, as a share."""
    tolerance = tolerance_of((log.plan.measure(Role.TOLERANCE) or TOLERANCE).quantity)
    reading = _reading(log) * math.sqrt(len(uses)) / sum(use.mass.to("lb").value for use in uses)
    return min(math.hypot(tolerance, 2 * reading, 2 * AREA_DOUBT), MOST)


def _reading(log: Log) -> float:
    """Standard deviation of what one hopper used, in pounds."""
    return READING * max(log.shift.filled[row].mass.to("lb").value for row in log.shift.rows)


def _odd(log: Log, uses: list[Use]) -> tuple[dict[int, float], tuple[int, ...]]:
    """How likely each row is to under-feed, and the one that is named; nothing where they were told as one."""
    rows = log.shift.rows
    if len(rows) < FEWEST or not all(use.own for use in uses):
        return {}, ()
    area = sum(use.area.value for use in uses) / len(rows)
    level = {row: quantity(use.mass.value * area / use.area.value, "lb") for row, use in zip(rows, uses, strict=True)}
    expected = expected_use(quantity(area, "acre"), log.plan.area_rate(log.shift), log.plan.spacing, len(rows))
    found = row_use(level, expected, quantity(_reading(log), "lb"))
    chances = {row: number(chance) for row, chance in found.probabilities.items()}
    return chances, (found.row,) if found.outcome == "under_feeds" else ()
