"""The meter and ground speed: a positive roll keeps its rate, a gravity orifice loses it as speed rises.

Output per length of row follows v^-n: n = 0 for a ground-driven positive roll, 1 for an orifice that flows by gravity,
between for an agitator over a gate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.course import SPEED_TOLERANCE
from engine.calculations.domain import CLOSE, at_most, finite, number, positive, share, side
from engine.calculations.kinds import Mass, Rate, Ratio, Speed
from engine.quantities import quantity

NOISE = quantity(2, "%")
"""Standard deviation of one catch where nothing better is known. Common practice, no source."""

NAMED_WITHIN = 0.25
"""A meter is called by the nearest of 0, one half and 1 when its exponent lies this near to it."""


Meter = Literal["positive", "between", "gravity"]
"""How a meter's output follows ground speed."""

_EXPONENTS: dict[Meter, float] = {"positive": 0.0, "gravity": 1.0, "between": 0.5}

_CHANGES: dict[int, Literal["less", "same", "more"]] = {0: "same", 1: "more", -1: "less"}


@dataclass(frozen=True)
class MeterTest:
    """The speed exponent, its standard deviation, and the type it names.

    odd = it fits no type: more than a quarter below 0 or above 1. too_close = the two speeds are too near each other to
    tell the types apart; ``exponent`` and ``deviation`` are None where they are equal.
    """

    outcome: Literal["positive", "between", "gravity", "odd", "too_close"]
    exponent: Ratio | None
    deviation: Ratio | None


@dataclass(frozen=True)
class SpeedChange:
    """What to expect at the new speed until the planter is calibrated again, as it must be."""

    outcome: Literal["less", "same", "more"]
    rate: Rate
    change: Ratio


@formula("meter-test", sources=("SPEED-LAW", "TRADE"), without={"too_close": ("exponent", "deviation")})
def meter_test(
    first_catch: Mass, first_speed: Speed, second_catch: Mass, second_speed: Speed, noise: Ratio = NOISE
) -> MeterTest:
    """Speed exponent from catches at two speeds over one course at one setting, n = ln(c1 / c2) / ln(v2 / v1).

    Catches [g, oz], speeds [mph, km/h], ``noise`` [%] of one catch. Its standard deviation is sqrt(2) noise /
    abs(ln(v2 / v1)); where that passes a quarter, the speeds are too close. A quarter itself is still within a type.
    Valid: all above zero, noise up to 100 %. Errors: OutOfDomain. Sources: SPEED-LAW, TRADE.
    """
    catches = positive("first_catch", first_catch) / positive("second_catch", second_catch)
    speeds = math.log(number(positive("second_speed", second_speed) / positive("first_speed", first_speed)))
    spread = math.sqrt(2) * number(share("noise", noise))
    if speeds == 0:
        return MeterTest("too_close", None, None)
    exponent, deviation = math.log(number(catches)) / speeds, spread / abs(speeds)
    outcome = _named(exponent) if at_most(deviation, NAMED_WITHIN) else "too_close"
    return MeterTest(outcome, quantity(exponent, "1"), quantity(deviation, "1"))


def _named(exponent: float) -> Literal["positive", "between", "gravity", "odd"]:
    return next((meter for meter, middle in _EXPONENTS.items() if at_most(abs(exponent - middle), NAMED_WITHIN)), "odd")


@dataclass(frozen=True)
class SpeedDoubt:
    """Whether a run off the planned speed leaves open what the meter gives there, and how far off it was."""

    outcome: Literal["settled", "open"]
    off: Ratio


@formula("speed-doubt", sources=("SPEED-LAW", "TRADE"))
def speed_doubt(driven: Speed, planned: Speed, meter: Meter | None = None) -> SpeedDoubt:
    """Open where the type of the ``meter`` is not known and the run was ``driven`` more than 5 % off ``planned``.

    Then the output at the planned speed may be off by as much as the speed; a run at each of two speeds tells the type.
    ``driven``, ``planned`` [mph, km/h]; exactly 5 % is settled. Valid: both above zero. Errors: OutOfDomain.
    Sources: SPEED-LAW, TRADE.
    """
    off = number(positive("driven", driven) / positive("planned", planned)) - 1
    is_open = meter is None and not at_most(abs(off), number(SPEED_TOLERANCE))
    return SpeedDoubt("open" if is_open else "settled", quantity(off, "1"))


@formula("speed-change", sources=("SPEED-LAW", "MO-G1270A"))
def speed_change(rate: Rate, old_speed: Speed, new_speed: Speed, exponent: Ratio) -> SpeedChange:
    """Rate to expect after a change of speed, R2 = R1 (v1 / v2)^n, and its change R2 / R1 - 1. Then calibrate again.

    ``rate`` R1 [lb/acre, kg/ha, oz/1000 ft, g/100 m], speeds [mph, km/h], ``exponent`` n of the meter as ``meter-test``
    finds it. Valid: rate and speeds above zero, any finite exponent. Errors: OutOfDomain.
    Sources: SPEED-LAW, MO-G1270A.
    """
    slower = number(positive("old_speed", old_speed) / positive("new_speed", new_speed))
    times = slower ** number(finite("exponent", exponent))
    return SpeedChange(_CHANGES[side(times - 1, CLOSE)], positive("rate", rate) * times, quantity(times - 1, "1"))


@formula("speed-change-by-meter", sources=("SPEED-LAW", "MO-G1270A"))
def speed_change_by_meter(rate: Rate, old_speed: Speed, new_speed: Speed, meter: Meter) -> SpeedChange:
    """Rate to expect after a change of speed from the type of meter alone: n = 0, one half or 1 in ``speed-change``.

    Arguments as there [lb/acre, mph]. Valid: rate and speeds above zero. Errors: OutOfDomain.
    Sources: SPEED-LAW, MO-G1270A.
    """
    return speed_change(rate, old_speed, new_speed, exponent_of(meter))


def exponent_of(meter: Meter) -> Ratio:
    """The speed exponent n of a type of meter."""
    return quantity(_EXPONENTS[meter], "1")
