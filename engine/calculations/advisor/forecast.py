"""The outlook of each row: what its notches would give, the chance of being within tolerance, the worth of a catch."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from engine.calculations.advisor.posterior import Posterior
from engine.calculations.advisor.response import Floats, Ints, Nominal, at
from engine.calculations.distribution import student_share
from engine.values import Dial

SIDE = 2
"""Notches to both sides of the best one that may turn out better after one more catch."""
STRAY = 2.0
"""Times the variance learnt for all catches, from which a catch counts as a stray (own decision)."""
GRID = 17
"""Positions tried at once when the best notch is sought."""
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(9)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


@dataclass(frozen=True)
class Window:
    """Tolerance in log output: from ln(1 - t) to ln(1 + t)."""

    low: float
    high: float

    @property
    def centre(self) -> float:
        return (self.low + self.high) / 2

    def chance(self, mean: Floats, deviation: Floats, freedom: float) -> Floats:
        """Probability that the true log output lies inside, by Student's t with ``freedom`` degrees of freedom."""
        below = student_share(freedom, (self.high - mean) / deviation)
        found: Floats = np.maximum(below - student_share(freedom, (self.low - mean) / deviation), 0.0)
        return found


def window(tolerance: float) -> Window:
    return Window(math.log1p(-tolerance), math.log1p(tolerance))


@dataclass(frozen=True)
class Outlook:
    """One value per row in each array, rows as asked: at the notch the row is at, and at the best notch.

    ``best``: its place on the dial; ``mean``, ``deviation`` of ln(output / target) there; ``chance`` of being within
    tolerance there, ``chance_now`` at the present notch; ``centred``: the chance if the best notch were exactly right,
    which catches alone limit; ``gain``: by how much one more catch is expected to raise the chance of the better notch;
    ``strays``: share of the row's catches whose learnt variance is ``STRAY`` times that of all catches, or more;
    ``notch``: log output of one notch about the best one.
    """

    best: Ints
    mean: Floats
    deviation: Floats
    mean_now: Floats
    deviation_now: Floats
    chance: Floats
    chance_now: Floats
    centred: Floats
    gain: Floats
    strays: Floats
    notch: Floats


def outlook(posterior: Posterior, nominal: Nominal, rows: Ints, now: Ints, within: Window) -> Outlook:
    """Where each row is best set. ``now``: the notch each row is at, counted from the low end of the dial."""
    best = nearest(posterior, nominal, rows, within.centre)
    beside = np.clip(best[:, None] + np.arange(-SIDE, SIDE + 1), 0, nominal.dial.notches - 1)
    notches = np.concatenate([beside, now[:, None]], axis=1)
    mean, deviation = _at(posterior, nominal, rows, notches)
    chance = within.chance(mean, deviation, posterior.freedom)
    middle = np.full_like(deviation[:, SIDE], within.centre)
    return Outlook(
        best,
        mean[:, SIDE],
        deviation[:, SIDE],
        mean[:, -1],
        deviation[:, -1],
        chance[:, SIDE],
        chance[:, -1],
        within.chance(middle, deviation[:, SIDE], posterior.freedom),
        _gain(posterior, within, mean, deviation, _next_noise(posterior, rows)),
        _strays(posterior, rows),
        (mean[:, 2 * SIDE] - mean[:, 0]) / np.maximum(beside[:, -1] - beside[:, 0], 1),
    )


def _at(posterior: Posterior, nominal: Nominal, rows: Ints, notches: Ints) -> tuple[Floats, Floats]:
    """Mean and deviation at several notches of each row, shape (rows, notches)."""
    positions = positions_of(nominal.dial, notches)
    mean, deviation = posterior.at(at(np.repeat(rows, notches.shape[1]), positions.ravel(), nominal, posterior.time))
    return mean.reshape(notches.shape), deviation.reshape(notches.shape)


def positions_of(dial: Dial, notches: Ints) -> Floats:
    """Positions of notches, as ``Dial.setting`` writes them."""
    found: Floats = np.round(dial.low + notches * dial.step, 6)
    return found


def nearest(posterior: Posterior, nominal: Nominal, rows: Ints, centre: float) -> Ints:
    """The notch of each row whose expected log output is nearest to ``centre``, found on ever finer grids.

    What is expected is that of the run after the next: a row that is moved is caught once more before it plants.
    """
    last = nominal.dial.notches - 1
    stride = max(1, -(-last // (GRID - 1)))
    offsets = np.arange(GRID)
    start = np.zeros(len(rows), dtype=np.int64)
    while True:
        notches = np.clip(start[:, None] + stride * offsets, 0, last)
        positions = positions_of(nominal.dial, notches).ravel()
        mean = posterior.mean_at(at(np.repeat(rows, GRID), positions, nominal, posterior.time + 1)).reshape(
            notches.shape
        )
        best = np.take_along_axis(notches, np.argmin(np.abs(mean - centre), axis=1)[:, None], axis=1)[:, 0]
        if stride == 1:
            return best
        finer = max(1, -(-2 * stride // (GRID - 1)))
        start, stride = np.maximum(best - stride, 0), finer


def _next_noise(posterior: Posterior, rows: Ints) -> Floats:
    """Variance to expect of one more catch of each row: the mean of what its catches showed."""
    same = rows[:, None] == posterior.points.row
    usual = float(np.mean(posterior.spread)) if len(posterior.spread) else posterior.prior.noise**2
    counted = same.sum(axis=1)
    found: Floats = np.where(counted > 0, (same * posterior.spread).sum(axis=1) / np.maximum(counted, 1), usual)
    return found


def _strays(posterior: Posterior, rows: Ints) -> Floats:
    stray = posterior.spread >= STRAY * posterior.scale * posterior.own
    mine = [stray[(posterior.points.row == row) & (posterior.points.earlier == 0)] for row in rows]
    return np.array([np.mean(one) if len(one) else 0.0 for one in mine])


def _gain(posterior: Posterior, within: Window, mean: Floats, deviation: Floats, noise: Floats) -> Floats:
    """Expected rise of the best chance after one more catch at the best notch.

    The catch shrinks the variance s^2 of the row by s^4 / (s^2 + noise); its mean moves by as much, unknown which way:
    E max_j P_j(mean_j + sqrt(s^4 / (s^2 + noise)) z) over z ~ N(0, 1) by Gauss-Hermite, less max_j P_j now.
    """
    square = deviation**2
    moved = square[:, SIDE] ** 2 / (square[:, SIDE] + noise)
    left = np.sqrt(np.maximum(square - moved[:, None], 1e-8))
    after = [within.chance(mean + np.sqrt(moved)[:, None] * z, left, posterior.freedom).max(axis=1) for z in _NODES]
    now = within.chance(mean, deviation, posterior.freedom).max(axis=1)
    found: Floats = _WEIGHTS @ np.array(after) - now
    return found
