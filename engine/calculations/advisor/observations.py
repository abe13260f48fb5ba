"""From catches in grams to readings of the model: which dial position each was caught at, and how sharp it is."""

from __future__ import annotations

import math
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any, cast

import numpy as np

from engine.calculations.advisor.posterior import Readings
from engine.calculations.advisor.response import Floats, Nominal, Points
from engine.calculations.domain import not_negative
from engine.calculations.kinds import EveryRun, Mass, Rate, Ratio, Speed
from engine.errors import InputError
from engine.quantities import magnitude
from engine.values import Setting

STOPPED = 0.3
"""A catch below this share of what the other rows caught in that run is a stopped row, not noise (own judgement)."""
NOTHING = 0.02
"""A catch below this share of the target says nothing of the dial (own judgement)."""
GRAIN = 1 / 12
"""Variance of a reading rounded to one step, in steps squared."""


@dataclass(frozen=True)
class CaughtRuns:
    """What the test runs gave, oldest first."""

    caught: EveryRun[Mass]
    """Net mass over the course [g, oz]."""
    settings: EveryRun[Setting]
    """Where the dials stood; one that is left out stays where it was."""
    speeds: EveryRun[Speed] | None = None
    """Speed at which each row was caught [mph, km/h]; the planned one where it is not told."""
    planting_speed: Speed | None = None
    """Planned speed [mph, km/h], to which catches at ``speeds`` are brought."""


@dataclass(frozen=True)
class CatchGoal:
    """What a row is to give over the course."""

    target: Mass
    """The catch wanted [g, oz]."""
    tolerance: Ratio
    """How far off it may be, of the target [%]."""
    rate: Rate | None = None
    """The rate that the target stands for [lb/acre, oz/1000 ft], for expected rates."""


@dataclass(frozen=True)
class CatchPrecision:
    """How sharp a catch is."""

    scale_step: Mass | None = None
    """Step in which catches were weighed [g, oz]."""
    container_step: Mass | None = None
    """Step in which containers were weighed [g, oz]."""
    noise: Ratio | None = None
    """Scatter of one catch where it is known [%]."""


@dataclass(frozen=True)
class EarlierCatches:
    """This planter's own catches of earlier calibrations, brought to this course and rate."""

    earlier_caught: EveryRun[Mass] = ()
    """Net mass over the course [g, oz]."""
    earlier_settings: EveryRun[Setting] = ()
    """Where the dials stood."""


@dataclass(frozen=True)
class Catch:
    """One catch of one row: ``grams`` at ``position``; ``speed`` is ln(v / v0)."""

    row: int
    run: int
    position: float
    grams: float
    speed: float = 0.0
    earlier: bool = False


def catches(runs: CaughtRuns, *, earlier: bool = False) -> list[Catch]:
    """Every catch with the position that its row's dial was at; a setting stands until the row has another one.

    InputError for a catch of a row without a setting, OutOfDomain for one below zero.
    """
    found: list[Catch] = []
    present: dict[int, Setting] = {}
    none = cast(Mapping[int, Any], {})
    each = zip_longest(runs.settings, runs.caught, runs.speeds or (), fillvalue=none)
    for run, (moved, masses, driven) in enumerate(each):
        present |= moved
        for row, mass in masses.items():
            if row not in present:
                raise InputError(f"row {row} has a catch but no setting")
            grams = magnitude(not_negative(f"row {row}", mass), "g")
            speed = _log_ratio(driven.get(row), runs.planting_speed)
            found.append(Catch(row, run, present[row].position, grams, speed, earlier))
    return found


def _log_ratio(driven: Speed | None, planned: Speed | None) -> float:
    if driven is None or planned is None:
        return 0.0
    return math.log(float((driven / planned).to("dimensionless").magnitude))


def usable(found: Sequence[Catch], target: float) -> list[Catch]:
    """The catches of rows that ran: those that gave hardly anything are no point of the curve."""
    runs: dict[tuple[bool, int], list[float]] = {}
    for one in found:
        runs.setdefault((one.earlier, one.run), []).append(one.grams)
    usual = {run: statistics.median_high(grams) for run, grams in runs.items()}
    least = NOTHING * target
    return [one for one in found if one.grams > max(least, STOPPED * usual[(one.earlier, one.run)])]


@dataclass(frozen=True)
class Scale:
    """How catches were weighed, as shares of the target: ``noise`` of a catch, ``step``, the ``container``'s step."""

    noise: float
    step: float = 0.0
    container: float = 0.0


def readings(found: Sequence[Catch], target: float, nominal: Nominal, scale: Scale) -> Readings:
    """The catches as the model takes them, ``target`` in grams.

    A step q adds q^2/12 to each catch. Where noise s does not shake the reading over several steps the same error comes
    back every time and does not average out: of the rounding error a share exp(-4 pi^2 s^2 / q^2) is common to all
    catches that read the same (first harmonic of the rounding error under Gaussian dither; derivation). A
    container weighed to a step adds an error common to all catches of its row, which no number of catches removes.
    """
    positions = np.array([one.position for one in found], dtype=float)
    grams = np.array([one.grams for one in found], dtype=float)
    points = Points(
        np.array([one.row for one in found], dtype=np.int64),
        positions,
        nominal.place(positions),
        np.array([one.speed for one in found], dtype=float),
        np.array([one.earlier for one in found], dtype=float),
        np.array([one.run for one in found], dtype=np.int64),
        np.array([0 if one.earlier else one.run for one in found], dtype=float),
    )
    own = scale.noise**2 + GRAIN * (scale.step * target / grams) ** 2 * (1 - _stuck(scale))
    return Readings(points, np.log(grams / target), own, _shared(points, grams, target, scale))


def _stuck(scale: Scale) -> float:
    """Share of the rounding variance that repeats itself."""
    return math.exp(-((2 * math.pi * scale.noise / scale.step) ** 2)) if scale.step else 0.0


def _shared(points: Points, grams: Floats, target: float, scale: Scale) -> Floats:
    same_row = points.row[:, None] == points.row
    same_reading = grams[:, None] == grams
    each = GRAIN * (same_row * scale.container**2 + same_reading * _stuck(scale) * scale.step**2)
    found: Floats = each * target**2 / np.outer(grams, grams)
    return found
