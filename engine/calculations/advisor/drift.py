"""What all rows of a run share: an error of the run as a whole, and a level that drifts from run to run.

A mis-said speed, a slip or a damp hour moves every row of a run by the same share; product that takes up moisture moves
them on and on. Neither averages out over the rows, so a model without them is too sure. How large they are is learnt:
the catches are judged under several hypotheses h = (common, walk, trend) with prior weights p_h, each weighed by the
evidence N(y - m; 0, K_h + D) with the residual variances D of the first round, and the variances are averaged,

    common^2 = sum w_h common_h^2,    w_h = p_h N_h / sum p N        and so for walk and trend.

Derivation: Bayes' rule over the hypotheses; the average of variances stands in for the mixture (own decision).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from engine.calculations.advisor.posterior import Posterior, Readings, condition, kernel_of
from engine.calculations.advisor.prior import Prior
from engine.calculations.advisor.response import Floats, Points, mean


@dataclass(frozen=True)
class DriftHypothesis:
    """Standard deviations in log output as in ``Prior``, and how likely they are before any catch."""

    weight: float
    common: float = 0.0
    walk: float = 0.0
    trend: float = 0.0


HYPOTHESES = (
    DriftHypothesis(0.4),
    DriftHypothesis(0.1, common=0.015),
    DriftHypothesis(0.35, trend=0.014),
    DriftHypothesis(0.15, walk=0.012),
)
"""Own judgement: two planters in five have nothing of the kind."""


def learnt(prior: Prior, readings: Readings) -> Posterior:
    """The posterior given ``readings``, with what the rows of a run share learnt from them."""
    base = condition(_averaged(prior, [one.weight for one in HYPOTHESES]), readings)
    if not len(readings.points):
        return base
    still = kernel_of(replace(prior, common=0.0, walk=0.0, trend=0.0), readings) + np.diag(base.spread)
    off = readings.logs - mean(prior, readings.points)
    logs = [math.log(one.weight) + _evidence(still + _shared(one, readings.points), off) for one in HYPOTHESES]
    weights = np.exp(np.array(logs) - max(logs))
    return condition(_averaged(prior, weights / weights.sum()), readings, base)


def _averaged(prior: Prior, weights: Floats | list[float]) -> Prior:
    def deviation(of: str) -> float:
        squares = (w * getattr(one, of) ** 2 for w, one in zip(weights, HYPOTHESES, strict=True))
        return math.sqrt(sum(squares))

    return replace(prior, common=deviation("common"), walk=deviation("walk"), trend=deviation("trend"))


def _shared(one: DriftHypothesis, points: Points) -> Floats:
    """What a hypothesis adds to the covariance of the readings."""
    now = (points.earlier[:, None] + points.earlier) == 0
    found: Floats = one.common**2 * (now & (points.run[:, None] == points.run))
    found = found + one.walk**2 * np.minimum(points.time[:, None], points.time)
    return found + one.trend**2 * np.outer(points.time, points.time)


def _evidence(covariance: Floats, off: Floats) -> float:
    """ln N(off; 0, covariance) but for a constant."""
    factor = np.linalg.cholesky(covariance)
    white = np.linalg.solve(factor, off)
    return float(-0.5 * white @ white - np.log(np.diagonal(factor)).sum())
