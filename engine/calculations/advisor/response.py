"""The response of a planter: log output of a row as a Gaussian process over the position of its dial.

    ln(output / target) = g(p) + a + (b + d_r) x + h(x) + f_r + e_rp - n ln(v / v0) + c t + w(t)    with x = g(p)

g is the nominal curve below; a the level, b the departure of the slope, h a bend (an integrated random walk from the
reference position, so that a kink is not excluded), f_r the factor of row r, d_r its own slope, e_rp what belongs to
one setting of one row, n the speed exponent, t the run counted from 0, c a steady trend and w a random walk of the
level over the runs. Each term is Gaussian with the deviations of ``Prior``, independent of the
others, so the covariance of two points is a sum of products. The sum covers a zero offset and curvature: for output
k (p - z)^c the slope in g is c p / (p - z), a constant and a bend. Derivation: this docstring.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.calculations.advisor.prior import Prior
from engine.values import Dial

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NOTCH = 0.05
"""Nominal log output of one notch where the numbers of a dial say nothing (common practice: 3-8 %, no source)."""


@dataclass(frozen=True)
class Nominal:
    """The nominal curve g: ln(p / reference) on a dial of numbers from zero up, else ``NOTCH`` a notch.

    ``steepness``: by how much the planter was found to be steeper.
    """

    dial: Dial
    reference: float
    steepness: float = 1.0

    @property
    def proportional(self) -> bool:
        return not self.dial.marks and self.dial.low >= 0

    def place(self, positions: Floats) -> Floats:
        """g at each position; a position below half a notch counts as half a notch."""
        if not self.proportional:
            return self.steepness * NOTCH * (positions - self.reference) / self.dial.step
        least = self.dial.step / 2
        return self.steepness * np.log(np.maximum(positions, least) / max(self.reference, least))


@dataclass(frozen=True)
class Points:
    """Where output is caught or asked for: arrays of one length.

    ``place`` is x; ``position`` tells settings apart; ``speed`` is ln(v / v0); ``earlier`` is 1 for the planter's
    history; ``run`` tells runs apart; ``time`` counts the runs of this season from 0.
    """

    row: Ints
    position: Floats
    place: Floats
    speed: Floats
    earlier: Floats
    run: Ints
    time: Floats

    def __len__(self) -> int:
        return len(self.row)


def at(rows: Ints, positions: Floats, nominal: Nominal, time: float = 0.0) -> Points:
    """Points of this season at planting speed; ``time``: in which run, counted from 0."""
    none = np.zeros(len(rows))
    return Points(
        rows, positions, nominal.place(positions), none, none, np.full(len(rows), -1), np.full(len(rows), time)
    )


def mean(prior: Prior, points: Points) -> Floats:
    """Expected ln(output / target) before any catch, by the nominal curve."""
    return points.place - prior.exponent * points.speed


def covariance(prior: Prior, one: Points, other: Points) -> Floats:
    """Prior covariance of the true log output at two sets of points, shape (len(one), len(other))."""
    places = np.outer(one.place, other.place)
    same_row = one.row[:, None] == other.row
    same_setting = same_row & (one.position[:, None] == other.position)
    planter = prior.level**2 + prior.slope**2 * places + _curve(prior, one.place, other.place)
    row = prior.row**2 + prior.row_slope**2 * places
    speed = prior.exponent_sd**2 * np.outer(one.speed, other.speed)
    planter = planter + prior.trend**2 * np.outer(one.time, other.time)
    if prior.walk:
        planter = planter + prior.walk**2 * np.minimum(one.time[:, None], other.time)
    found: Floats = planter + speed + same_row * row + same_setting * prior.reset**2 + _season(prior, one, other)
    return found


def variance(prior: Prior, points: Points) -> Floats:
    """The diagonal of ``covariance(prior, points, points)``."""
    square = points.place**2
    planter = prior.level**2 + prior.slope**2 * square + _curve_variance(prior, np.abs(points.place))
    row = prior.row**2 + prior.row_slope**2 * square + prior.reset**2
    season = prior.season**2 + prior.season_run**2 + prior.season_row**2
    planter = planter + prior.trend**2 * points.time**2 + prior.walk**2 * points.time
    found: Floats = planter + row + prior.exponent_sd**2 * points.speed**2 + season * points.earlier
    return found


def _curve(prior: Prior, one: Floats, other: Floats) -> Floats:
    """Covariance of once and twice integrated white noise from 0 to both sides (Wahba's spline, from memory)."""
    near = np.minimum(np.abs(one)[:, None], np.abs(other))
    far = np.maximum(np.abs(one)[:, None], np.abs(other))
    bend = prior.bend**2 * near**2 * (3 * far - near) / 6
    found: Floats = (np.outer(one, other) > 0) * (bend + prior.rough**2 * near)
    return found


def _curve_variance(prior: Prior, far: Floats) -> Floats:
    found: Floats = prior.bend**2 * far**3 / 3 + prior.rough**2 * far
    return found


def _season(prior: Prior, one: Points, other: Points) -> Floats:
    if not (one.earlier.any() and other.earlier.any()):
        return np.zeros((len(one), len(other)))
    both = np.outer(one.earlier, other.earlier)
    same_row = one.row[:, None] == other.row
    same_run = one.run[:, None] == other.run
    found: Floats = both * (prior.season**2 + same_run * prior.season_run**2 + same_row * prior.season_row**2)
    return found
