"""Drawdown: the rate that what left the hoppers proves over a known area."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import counted, expressed, not_negative, number, positive, shown, side, tolerance_of
from engine.calculations.kinds import Area, AreaRate, Length, Mass, PerRow, Rate, Ratio
from engine.calculations.rate import area_rate
from engine.errors import OutOfDomain
from engine.quantities import quantity

RATE_TOLERANCE = quantity(5, "%")
"""Wanted and applied rate agree within this. Source: GA-2020."""


@formula("drawdown", sources=("DRAW-CALC",))
def drawdown(loaded: Mass, left: Mass, area: Area, refilled: Mass | None = None) -> AreaRate:
    """Rate from what was used over a known area, R = (loaded + refilled - left) / A [lb/acre, kg/ha].

    ``loaded`` [lb, kg] put in at the start, ``refilled`` [lb, kg] all that was put in on top since, ``left`` [lb, kg]
    taken out again or told at the end, ``area`` A [acre, ha] planted meanwhile.
    Valid: loaded and area above zero, refilled zero or above, left from zero to all that was put in. Errors:
    OutOfDomain. Source: DRAW-CALC.
    """
    return expressed(used(loaded, left, refilled) / positive("area", area), "kg/ha")


def used(loaded: Mass, left: Mass, refilled: Mass | None = None) -> Mass:
    """Product that left the hoppers, loaded + refilled - left [kg]. OutOfDomain where more is left than was put in."""
    put_in = expressed(positive("loaded", loaded), "kg")
    if refilled is not None:
        put_in = expressed(put_in + not_negative("refilled", refilled), "kg")
    gone: Mass = put_in - expressed(not_negative("left", left), "kg")
    if gone.magnitude < 0:
        raise OutOfDomain("left", shown(left), f"it is more than the {shown(put_in.to(loaded.units))} that was loaded")
    return gone


_OUTCOMES: dict[int, Literal["on_target", "too_much", "too_little"]] = {0: "on_target", 1: "too_much", -1: "too_little"}


@dataclass(frozen=True)
class RateCheck:
    """How far an applied rate is from the wanted one, and the factor of a first correction, wanted / applied."""

    outcome: Literal["on_target", "too_little", "too_much"]
    off: Ratio
    factor: Ratio


@formula("row-drawdown", sources=("DRAW-CALC",))
def row_drawdown(
    loaded: PerRow[Mass], left: PerRow[Mass], area: Area, rows: int, refilled: PerRow[Mass] | None = None
) -> PerRow[AreaRate]:
    """Rate of each row from its own hopper, R = (loaded + refilled - left) / (A / rows) [lb/acre, kg/ha].

    ``loaded`` and ``left`` [lb, kg] of each row measured, ``refilled`` [lb, kg] on top of it, none where a row is left
    out, ``area`` A [acre, ha] done by the whole planter of ``rows``.
    Valid: as ``drawdown`` for each row, row numbers from 1 to rows, the same rows in loaded and left. Errors:
    OutOfDomain naming the row. Source: DRAW-CALC.
    """
    each, on_top = positive("area", area) / counted("rows", rows), refilled or {}
    for row in sorted({*loaded, *left, *on_top}):
        if not 1 <= row <= rows:
            raise OutOfDomain("row", row, f"the planter has rows 1 to {rows}")
        if row not in loaded or row not in left:
            raise OutOfDomain("row", row, "both what was loaded and what is left must be known")
    return {row: drawdown(loaded[row], left[row], each, on_top.get(row)) for row in sorted(loaded)}


@formula("rate-check", sources=("GA-2020", "PES-BAND"))
def rate_check(applied: Rate, wanted: Rate, spacing: Length, tolerance: Ratio = RATE_TOLERANCE) -> RateCheck:
    """A rate that was applied against the wanted one: off = applied / wanted - 1, factor = wanted / applied.

    Rates [lb/acre, kg/ha, oz/1000 ft, g/100 m], ``spacing`` [in, cm], ``tolerance`` [%]; exactly it is on target.
    Valid: all above zero, tolerance below 100 %. Errors: OutOfDomain. Sources: GA-2020, PES-BAND.
    """
    true = area_rate(positive("applied", applied), spacing)
    times = number(true / area_rate(positive("wanted", wanted), spacing))
    outcome = _OUTCOMES[side(times - 1, tolerance_of(tolerance))]
    return RateCheck(outcome, quantity(times - 1, "1"), quantity(1 / times, "1"))
