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

from engine.calculations.posterior import Posterior, Readings, condition, kernel_of
from engine.calculations.prior import Prior
from engine.calculations.response import Floats, mean


@dataclass(frozen=True)
class Hypothesis:
    """Standard deviations in log output as in ``Prior``, and how likely they are before any catch."""

    weight: float
    common: float = 0.0
    walk: float = 0.0
    trend: float = 0.0


HYPOTHESES = (Hypothesis(0.55), Hypothesis(0.15, common=0.015), Hypothesis(0.3, trend=0.012))
"""Own judgement: more than half of the planters have nothing of the kind."""


def learnt(prior: Prior, readings: Readings) -> Posterior:
    """The posterior given ``readings``, with what the rows of a run share learnt from them."""
    base = condition(_averaged(prior, [one.weight for one in HYPOTHESES]), readings)
    if not len(readings.points):
        return base
    logs = np.array([math.log(one.weight) + _evidence(_under(prior, one), readings, base) for one in HYPOTHESES])
    weights = np.exp(logs - logs.max())
    return condition(_averaged(prior, weights / weights.sum()), readings)


def _under(prior: Prior, one: Hypothesis) -> Prior:
    return replace(prior, common=one.common, walk=one.walk, trend=one.trend)


def _averaged(prior: Prior, weights: Floats | list[float]) -> Prior:
    def deviation(of: str) -> float:
        squares = (w * getattr(one, of) ** 2 for w, one in zip(weights, HYPOTHESES, strict=True))
        return math.sqrt(sum(squares))

    return replace(prior, common=deviation("common"), walk=deviation("walk"), trend=deviation("trend"))


def _evidence(prior: Prior, readings: Readings, base: Posterior) -> float:
    """ln N(y - m; 0, K + D) but for a constant."""
    factor = np.linalg.cholesky(kernel_of(prior, readings) + np.diag(base.spread))
    white = np.linalg.solve(factor, readings.logs - mean(prior, readings.points))
    return float(-0.5 * white @ white - np.log(np.diagonal(factor)).sum())
