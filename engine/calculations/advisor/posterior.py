"""What the catches say: the response given them, with the noise of a catch learnt and stray catches pulled in.

A catch is y = f + e; e follows Student's t with ``Prior.tails`` degrees of freedom about zero, its scale s learnt. As
t is a Gaussian whose precision w is itself Gamma, the mean-field posterior has closed steps, repeated until still:

    f | w, s   Gaussian:  C = K + D,  D = diag(s v / w),  mean = m + K C^-1 (y - m)
    w_i        = (tails + 1) / (tails + E r_i^2 / (s v_i))
    s          = (c + sum w_i E r_i^2 / v_i) / (c + n)

v_i is the variance that catch i was given (noise and scale step), c = ``Prior.noise_catches``, E r^2 the expected
squared residual, (D C^-1 (y - m))^2 + diag(D - D C^-1 D). No random number is drawn. Source: variational Bayes for
Student's t, Tipping and Lawrence 2005 (from memory); derivation: this docstring.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from engine.calculations.advisor.prior import Prior
from engine.calculations.advisor.response import Floats, Points, covariance, mean, variance

ROUNDS = 8
STILL = 1e-2
"""Repeating stops when no weight moves by more than this."""


@dataclass(frozen=True)
class Readings:
    """Catches as the model takes them: ``logs`` = ln(caught / target) at ``points``.

    ``own``: variance of each that is its own (noise and scale step); ``shared``: covariance that belongs to the reading
    and not to the output (a container's weight, a scale step too coarse to average out), shape (n, n).
    """

    points: Points
    logs: Floats
    own: Floats
    shared: Floats


@dataclass(frozen=True)
class Posterior:
    """The response given the catches; ``at`` answers for any points.

    ``own``: variance each catch was given, ``spread``: as learnt, ``scale``: by how many times the variance of
    all of them was found to be larger, ``freedom``: degrees of freedom behind it.
    """

    prior: Prior
    points: Points
    logs: Floats
    solved: Floats
    inverse: Floats
    own: Floats
    spread: Floats
    scale: float
    freedom: float

    @property
    def time(self) -> float:
        """The next run: what is asked for is what the planter will give then."""
        return float(np.max(self.points.time)) + 1 if len(self.points) else 0.0

    def speed_effect(self) -> Floats:
        """What of each catch's ln(caught / target) comes from its speed: -n ln(v / v0) with n as learnt."""
        exponent = self.prior.exponent - self.prior.exponent_sd**2 * float(self.points.speed @ self.solved)
        found: Floats = -exponent * self.points.speed
        return found

    def mean_at(self, points: Points) -> Floats:
        """Mean of the true ln(output / target) at each point."""
        found: Floats = mean(self.prior, points) + covariance(self.prior, points, self.points) @ self.solved
        return found

    def at(self, points: Points) -> tuple[Floats, Floats]:
        """Mean and standard deviation of the true ln(output / target) at each point."""
        cross = covariance(self.prior, points, self.points)
        expected = mean(self.prior, points) + cross @ self.solved
        left = variance(self.prior, points) - np.einsum("ij,ij->i", cross @ self.inverse, cross)
        return expected, np.sqrt(np.maximum(left, 1e-12))


def condition(prior: Prior, readings: Readings, begin: Posterior | None = None) -> Posterior:
    """The posterior given ``readings``; with none of them it is the prior.

    ``begin``: the posterior of the same readings under a prior close by, from which the repeating sets out.
    """
    count = len(readings.points)
    kernel = kernel_of(prior, readings)
    off = readings.logs - mean(prior, readings.points)
    spread, weights, scale = readings.own, np.ones(count), 1.0
    if begin is not None:
        spread, scale = begin.spread, begin.scale
        weights = scale * readings.own / spread
    inverse, solved = _solve(kernel, spread, off)
    for _ in range(ROUNDS if count else 0):
        squares = (spread * solved) ** 2 + spread - spread**2 * np.diagonal(inverse)
        fresh = (prior.tails + 1) / (prior.tails + squares / (scale * readings.own))
        shares = float(np.sum(fresh * squares / readings.own))
        scale = (prior.noise_catches + shares) / (prior.noise_catches + count)
        still = float(np.max(np.abs(fresh - weights))) < STILL
        weights, spread = fresh, scale * readings.own / fresh
        inverse, solved = _solve(kernel, spread, off)
        if still:
            break
    return Posterior(
        prior, readings.points, readings.logs, solved, inverse, readings.own, spread, scale, prior.noise_catches + count
    )


def kernel_of(prior: Prior, readings: Readings) -> Floats:
    """Covariance of the readings but for what each has of its own."""
    points = readings.points
    same_run = (points.run[:, None] == points.run) & (points.earlier[:, None] + points.earlier == 0)
    found: Floats = covariance(prior, points, points) + readings.shared + prior.common**2 * same_run
    return found


def _solve(kernel: Floats, spread: Floats, off: Floats) -> tuple[Floats, Floats]:
    """The inverse of kernel + diag(spread), and its product with ``off``."""
    inverse = np.asarray(np.linalg.inv(kernel + np.diag(spread)), dtype=np.float64)
    return inverse, inverse @ off
