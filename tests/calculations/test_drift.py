"""What all rows of a run share is learnt from the catches."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from engine.calculations.advisor.drift import HYPOTHESES, learnt
from engine.calculations.advisor.observations import Catch, Scale, readings
from engine.calculations.advisor.posterior import Readings, condition, kernel_of
from engine.calculations.advisor.prior import Prior
from engine.calculations.advisor.response import Nominal, at, mean
from engine.values import Dial

PRIOR = Prior()


def given_levels(*levels: float, rows: int = 12) -> Readings:
    """A run per level, all rows of it at that level but for a fixed pattern of 2 %."""
    found = [
        Catch(row, run, 12.0, 50.0 * float(np.exp(level + 0.02 * np.sin(7 * row + 3 * run))))
        for run, level in enumerate(levels)
        for row in range(1, rows + 1)
    ]
    return readings(found, 50.0, Nominal(Dial.numbered(1, 40, 0.5), 12.0), Scale(PRIOR.noise))


def test_levels_that_stay_leave_little_drift() -> None:
    still, alone = learnt(PRIOR, given_levels(0, 0, 0, 0)).prior, learnt(PRIOR, given_levels(0)).prior
    assert still.trend < alone.trend
    assert still.common < alone.common


def test_levels_that_rise_are_a_trend() -> None:
    found = learnt(PRIOR, given_levels(0, 0.015, 0.03, 0.045, 0.06)).prior
    assert found.trend > 0.9 * max(one.trend for one in HYPOTHESES)
    assert found.common < 0.005


def test_levels_that_jump_are_errors_of_the_runs() -> None:
    found = learnt(PRIOR, given_levels(0, 0.03, -0.02, 0.025, -0.03)).prior
    assert found.common > 0.9 * max(one.common for one in HYPOTHESES)


def test_the_last_run_weighs_more_than_the_first() -> None:
    """The same two levels in either order: what comes next is nearer to the last."""
    where = at(np.array([1]), np.array([12.0]), Nominal(Dial.numbered(1, 40, 0.5), 12.0), 3.0)
    up, down = (float(learnt(PRIOR, given_levels(*some)).mean_at(where)[0]) for some in ((0, 0, 0.04), (0.04, 0, 0)))
    assert up > down + 0.002


def test_weights_are_those_of_the_normal_density() -> None:
    """Reference: each hypothesis weighed by scipy's multivariate normal density."""
    some = given_levels(0, 0.02, 0.01, rows=4)
    weights = np.array([one.weight for one in HYPOTHESES])

    def averaged(of: str, shares: np.ndarray) -> float:
        return float(np.sqrt(sum(w * getattr(one, of) ** 2 for w, one in zip(shares, HYPOTHESES, strict=True))))

    base = condition(
        replace(PRIOR, **{of: averaged(of, weights) for of in ("common", "walk", "trend")}),
        some,
    )
    densities = np.array(
        [
            stats.multivariate_normal.logpdf(
                some.logs,
                mean(PRIOR, some.points),
                kernel_of(replace(PRIOR, common=one.common, walk=one.walk, trend=one.trend), some)
                + np.diag(base.spread),
            )
            for one in HYPOTHESES
        ]
    )
    shares = weights * np.exp(densities - densities.max())
    found = learnt(PRIOR, some).prior
    for of in ("common", "trend"):
        assert getattr(found, of) == pytest.approx(averaged(of, shares / shares.sum()), rel=1e-6)
