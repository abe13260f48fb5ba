"""Whether a calibration still holds for what is to be planted now."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from engine.calculations.advisor.verdict import FIT_TO_PLANT, Verdict
from engine.calculations.catalogue import formula
from engine.calculations.domain import at_most, number, positive
from engine.calculations.kinds import Length, PerRow, Rate, Ratio, RowRate, Speed
from engine.calculations.meter import Meter
from engine.calculations.rate import area_rate
from engine.quantities import quantity
from engine.values import Setting

SPEED_WITHIN = quantity(10, "%")
"""A calibration serves speeds this near to its own. Common practice, no source."""

GRAVITY_WITHIN = quantity(5, "%")
"""The same where product falls by gravity: the rate moves against the speed, as one over it (FAULT-LOGIC), so that this
much speed takes all of a tolerance of 5 %."""


def speed_within(meter: Meter | None) -> Ratio:
    """How near to its own speed a calibration serves, by how the meter answers speed [%]; None where nobody knows."""
    return GRAVITY_WITHIN if meter == "gravity" else SPEED_WITHIN


SAME_RATE = 0.005
"""Rates that differ by less are the same, written in other units."""

Fit = Literal["fits", "product", "lot", "rate", "speed", "spacing", "planter"]


@dataclass(frozen=True)
class CalibrationCheck:
    """The first thing that is not as it was calibrated; the speed that is compared with."""

    outcome: Fit
    speed: Speed


@formula("calibration-check", sources=("RECALIBRATE", "TRADE"))
def calibration_check(
    rate: Rate,
    speed: Speed,
    spacing: Length,
    rows: int,
    *,
    planned: Speed | None = None,
    product: str | None = None,
    lot: str | None = None,
    settings: PerRow[Setting] | None = None,
    calibrated_rate: Rate | None = None,
    calibrated_speed: Speed | None = None,
    calibrated_spacing: Length | None = None,
    calibrated_rows: int | None = None,
    calibrated_product: str | None = None,
    calibrated_lot: str | None = None,
    calibrated_settings: PerRow[Setting] | None = None,
    meter: Meter | None = None,
    planter: str | None = None,
    calibrated_planter: str | None = None,
) -> CalibrationCheck:
    """What differs between now and the last finished test run: product, lot, rate, speed, spacing or planter.

    ``rate`` [lb/acre, kg/ha] or along the row, ``planned`` speed or else ``speed`` [mph, km/h] farther off the
    calibrated one than ``meter`` allows (``speed_within``), ``spacing`` [in, cm], the number of rows and the
    dial settings, or the name of the planter. A lot or a planter that was not known by name then or now is
    no difference. Valid: measures above zero. Errors: OutOfDomain. Sources: RECALIBRATE, TRADE.
    """
    faster = planned if planned is not None else speed
    differs: dict[Fit, bool] = {
        "product": _named(product) != _named(calibrated_product),
        "lot": lot is not None and calibrated_lot is not None and _named(lot) != _named(calibrated_lot),
        "rate": _is_off(area_rate(rate, spacing), _per_area(calibrated_rate, calibrated_spacing), SAME_RATE),
        "speed": _is_off(positive("speed", faster), calibrated_speed, number(speed_within(meter))),
        "spacing": _is_off(positive("spacing", spacing), calibrated_spacing, SAME_RATE),
        "planter": rows != (calibrated_rows or rows)
        or _moved(settings, calibrated_settings)
        or (planter is not None and calibrated_planter is not None and _named(planter) != _named(calibrated_planter)),
    }
    first: Fit = next((what for what, is_other in differs.items() if is_other), "fits")
    return CalibrationCheck(first, calibrated_speed if calibrated_speed is not None else speed)


def _named(text: str | None) -> str:
    return "".join(mark for mark in (text or "").casefold() if mark.isalnum())


def _per_area(rate: Rate | None, spacing: Length | None) -> Rate | None:
    return rate if rate is None or spacing is None else area_rate(rate, spacing)


def _is_off(now: Rate | Speed | Length, then: Rate | Speed | Length | None, allowed: float) -> bool:
    return then is not None and not at_most(abs(number(now / then) - 1), allowed)


def _moved(now: PerRow[Setting] | None, then: PerRow[Setting] | None) -> bool:
    return any(row in (then or {}) and (then or {})[row] != setting for row, setting in (now or {}).items())


class CalibratedUse(StrEnum):
    """How a row goes into the field: on or off as it was said, off since it was never calibrated, or on target never
    shown."""

    ON = "on"
    OFF = "off"
    UNCALIBRATED = "uncalibrated"
    OFF_TARGET = "off_target"


@dataclass(frozen=True)
class RowsToPlant:
    """Which rows plant, and how each stands.

    off_target = some that are to plant were not on target in the last test run, and nobody decided on them yet;
    uncalibrated = some that were to plant are off, since nothing was caught of them; as_said = neither.
    """

    outcome: Literal["as_said", "uncalibrated", "off_target"]
    use: PerRow[Literal["on", "off"]]
    basis: PerRow[CalibratedUse]


@formula("rows-to-plant", sources=("RECALIBRATE", "TRADE"))
def rows_to_plant(
    in_use: PerRow[Literal["on", "off"]],
    row_rates: PerRow[RowRate] | None = None,
    verdicts: PerRow[Verdict] | None = None,
    decided: Literal["plant", "leave"] | None = None,
) -> RowsToPlant:
    """The rows of those ``in_use`` that the last test run speaks for: a row that it never caught does not plant.

    ``row_rates`` [g/100 m, oz/1000 ft] and ``verdicts`` are those of the last test run; where it left none, rows are as
    they were said. A row whose verdict was not good enough plants only where somebody ``decided`` so.
    Valid: any rows. Errors: none. Sources: RECALIBRATE, TRADE.
    """
    basis = {row: _use_of(row, word, row_rates, verdicts) for row, word in in_use.items()}
    stays = {CalibratedUse.ON, *({CalibratedUse.OFF_TARGET} if decided == "plant" else ())}
    use: dict[int, Literal["on", "off"]] = {row: "on" if one in stays else "off" for row, one in basis.items()}
    if CalibratedUse.OFF_TARGET in basis.values() and decided is None:
        return RowsToPlant("off_target", use, basis)
    return RowsToPlant("uncalibrated" if CalibratedUse.UNCALIBRATED in basis.values() else "as_said", use, basis)


def _use_of(row: int, word: str, row_rates: PerRow[RowRate] | None, verdicts: PerRow[Verdict] | None) -> CalibratedUse:
    if word == "off":
        return CalibratedUse.OFF
    if row_rates and row not in row_rates:
        return CalibratedUse.UNCALIBRATED
    verdict = (verdicts or {}).get(row)
    return CalibratedUse.ON if verdict is None or Verdict(verdict) in FIT_TO_PLANT else CalibratedUse.OFF_TARGET
