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


@dataclass(frozen=True)
class PlannedWork:
    """What is to be planted now; what is not known by name is None."""

    rate: Rate
    """[lb/acre, kg/ha] or along the row."""
    speed: Speed
    """As set up [mph, km/h]."""
    spacing: Length
    """[in, cm]."""
    rows: int
    planned: Speed | None = None
    """As meant for tonight, where it is not ``speed`` [mph, km/h]."""
    product: str | None = None
    lot: str | None = None
    settings: PerRow[Setting] | None = None
    planter: str | None = None


@dataclass(frozen=True)
class CalibratedWork:
    """What the last finished test run was made for; None where it left nothing."""

    calibrated_rate: Rate | None = None
    """[lb/acre, kg/ha] or along the row."""
    calibrated_speed: Speed | None = None
    """[mph, km/h]."""
    calibrated_spacing: Length | None = None
    """[in, cm]."""
    calibrated_rows: int | None = None
    calibrated_product: str | None = None
    calibrated_lot: str | None = None
    calibrated_settings: PerRow[Setting] | None = None
    calibrated_planter: str | None = None


@formula("calibration-check", sources=("RECALIBRATE", "TRADE"))
def calibration_check(now: PlannedWork, then: CalibratedWork, meter: Meter | None = None) -> CalibrationCheck:
    """What differs between now and the last finished test run: product, lot, rate, speed, spacing or planter.

    The speed that is planned may be as far off the calibrated one as ``meter`` allows (``speed_within``); a planter is
    another one by its rows, dial settings or name. A lot or a planter that was not known by name then or now is no
    difference. ``now`` and ``then``: units beside their fields. Valid: measures above zero. Errors: OutOfDomain.
    Sources: RECALIBRATE, TRADE.
    """
    tonight = now.planned if now.planned is not None else now.speed
    differs: dict[Fit, bool] = {
        "product": _named(now.product) != _named(then.calibrated_product),
        "lot": _is_other_name(now.lot, then.calibrated_lot),
        "rate": _is_off(
            area_rate(now.rate, now.spacing), _per_area(then.calibrated_rate, then.calibrated_spacing), SAME_RATE
        ),
        "speed": _is_off(positive("speed", tonight), then.calibrated_speed, number(speed_within(meter))),
        "spacing": _is_off(positive("spacing", now.spacing), then.calibrated_spacing, SAME_RATE),
        "planter": now.rows != (then.calibrated_rows or now.rows)
        or _moved(now.settings, then.calibrated_settings)
        or _is_other_name(now.planter, then.calibrated_planter),
    }
    first: Fit = next((what for what, is_other in differs.items() if is_other), "fits")
    return CalibrationCheck(first, then.calibrated_speed if then.calibrated_speed is not None else now.speed)


def _is_other_name(now: str | None, then: str | None) -> bool:
    return now is not None and then is not None and _named(now) != _named(then)


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
