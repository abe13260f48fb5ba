"""Calibrations of invented planters over several years, for tests of what is told and drawn of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime

import numpy as np

from engine.dialog.facts.yearbook import PastCalibration
from engine.dialog.schema.slot_roles import Role
from engine.quantities import Measure
from engine.values import Dial, Value

DIAL = Dial.numbered(0, 60, 0.5)
TARGET = 39.0


def spring(year: int, month: int = 4, day: int = 20) -> datetime:
    return datetime(year, month, day, 18, tzinfo=UTC)


def calibration(
    year: int, caught: Mapping[int, float], settings: Mapping[int, float], dial: Dial = DIAL, **other: Value
) -> PastCalibration:
    """One calibration with one run, in grams and positions; ``other`` are values by the text of their roles."""
    values: dict[str, Value] = {
        Role.DIAL: dial,
        Role.RATE: Measure(value=5, unit="lb/acre"),
        Role.SPEED: Measure(value=5, unit="mph"),
        Role.TARGET: Measure(value=TARGET, unit="g"),
        Role.PRODUCT: "Granules A",
        **other,
    }
    run = {
        Role.NET: {row: Measure(value=grams, unit="g") for row, grams in caught.items()},
        Role.SETTING: {row: dial.setting(position) for row, position in settings.items()},
        Role.VERDICT: dict.fromkeys(caught, "on_target"),
    }
    return PastCalibration(at=spring(year), values=values, runs=(run,))


def calibrated(
    years: Sequence[int], rows: int = 8, worn: Mapping[int, float] | None = None, seed: int = 1, noise: float = 0.01
) -> list[PastCalibration]:
    """A planter whose rows feed by so much less every year; each year the dials are set so that all are on target."""
    generator, found = np.random.default_rng(seed), []
    for number, year in enumerate(years):
        factor = {row: (1 - (worn or {}).get(row, 0.0)) ** number for row in range(1, rows + 1)}
        settings = {row: round(24 / factor[row]) / 2 * 2 for row in factor}
        caught = {
            row: float(TARGET * settings[row] / 24 * factor[row] * np.exp(generator.normal(0, noise))) for row in factor
        }
        found.append(calibration(year, caught, settings))
    return found
