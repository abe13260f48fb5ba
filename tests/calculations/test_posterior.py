"""The response and its posterior against references that take another way."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from engine.calculations.advisor.observations import GRAIN, Catch, Scale, readings
from engine.calculations.advisor.posterior import Posterior, Readings, condition
from engine.calculations.advisor.prior import Prior
from engine.calculations.advisor.response import Nominal, Points, at, covariance, mean, variance
from engine.values import Dial

DIAL = Dial.numbered(1, 40, 0.5)
NOMINAL = Nominal(DIAL, 12.0)
STRAIGHT = Prior(bend=0.0, rough=0.0, tails=1e9, noise_catches=1e12, noise=0.02)
"""A prior under which the model is linear with known Gaussian noise, so that the posterior is exact."""


def caught(*rows: tuple[int, float, float]) -> list[Catch]:
    return [Catch(row, run, position, grams) for run, (row, position, grams) in enumerate(rows)]


def given_catches(found: list[Catch], prior: Prior, scale: Scale | None = None) -> Posterior:
    return condition(prior, readings(found, 50.0, NOMINAL, scale or Scale(prior.noise)))


def points(rows: list[int], positions: list[float]) -> Points:
    return at(np.array(rows), np.array(positions), NOMINAL)


CATCHES = caught((1, 12, 56), (2, 12, 61), (1, 10.5, 49), (2, 10, 50), (2, 10, 51.5), (3, 14, 70))


def test_posterior_is_that_of_linear_regression_on_the_unknowns() -> None:
    """Reference: precision form (X'X / s^2 + V^-1), with one column for each unknown of the model."""
    p = STRAIGHT
    asked = points([1, 2, 3], [10.5, 11.0, 10.0])
    every = [(c.row, c.position) for c in CATCHES] + [(1, 10.5), (2, 11.0), (3, 10.0)]
    cells = sorted(set(every))
    place = {position: float(np.log(position / 12.0)) for _, position in every}

    def design(row: int, position: float) -> list[float]:
        x = place[position]
        rows = [[float(row == r), x * (row == r)] for r in (1, 2, 3)]
        return [1.0, x, *np.ravel(rows), *(float((row, position) == cell) for cell in cells)]

    deviations = [p.level, p.slope, *[p.row, p.row_slope] * 3, *[p.reset] * len(cells)]
    x = np.array([design(c.row, c.position) for c in CATCHES])
    y = np.array([np.log(c.grams / 50) - place[c.position] for c in CATCHES])
    cov = np.linalg.inv(x.T @ x / p.noise**2 + np.diag(1 / np.square(deviations)))
    theta = cov @ x.T @ y / p.noise**2
    z = np.array([design(row, position) for row, position in every[-3:]])
    got_mean, got_deviation = given_catches(CATCHES, p).at(asked)
    np.testing.assert_allclose(got_mean, z @ theta + [place[position] for _, position in every[-3:]], atol=1e-9)
    np.testing.assert_allclose(got_deviation, np.sqrt(np.einsum("ij,jk,ik->i", z, cov, z)), rtol=1e-6)


def test_covariance_is_that_of_functions_drawn_from_the_model() -> None:
    """Reference: the terms drawn at random and summed, the bends by summing steps of white noise."""
    prior, generator, draws, step = Prior(), np.random.default_rng(4), 40_000, 0.005
    grid = np.arange(0, 0.31, step)

    def side() -> Any:
        slope = prior.bend * np.cumsum(generator.normal(0, step**0.5, (draws, len(grid))), axis=1)
        walk = prior.rough * np.cumsum(generator.normal(0, step**0.5, (draws, len(grid))), axis=1)
        return np.cumsum(slope, axis=1) * step + walk

    up, down = side(), side()
    places = np.array([0.3, 0.1, -0.2, 0.3])
    rows = np.array([1, 1, 2, 1])
    level, slope = (generator.normal(0, s, draws) for s in (prior.level, prior.slope))
    factor, own = (generator.normal(0, s, (3, draws)) for s in (prior.row, prior.row_slope))
    reset = [generator.normal(0, prior.reset, draws) for _ in range(3)]
    drawn = [
        level + slope * x + (up if x > 0 else down)[:, round(abs(x) / step) - 1] + factor[r] + own[r] * x + reset[i % 3]
        for i, (x, r) in enumerate(zip(places, rows, strict=True))
    ]
    none = np.zeros(4)
    where = Points(rows, places, places, none, none, np.zeros(4, dtype=np.int64), none)
    model = covariance(prior, where, where)
    np.testing.assert_allclose(model, np.cov(drawn), rtol=0.04, atol=0.003)
    np.testing.assert_allclose(variance(prior, where), np.diagonal(model), rtol=1e-12)


def test_drift_is_that_of_levels_drawn_from_the_model() -> None:
    """Reference: a trend and a random walk over the runs, drawn at random and summed."""
    prior, generator, draws = replace(STRAIGHT, trend=0.2, walk=0.3), np.random.default_rng(5), 40_000
    times = np.array([0, 1, 3, 4])
    walk = np.cumsum(np.hstack([np.zeros((draws, 1)), generator.normal(0, prior.walk, (draws, 4))]), axis=1)
    drawn = walk[:, times] + generator.normal(0, prior.trend, (draws, 1)) * times
    none = np.zeros(4)
    where = Points(np.arange(4), none, none, none, none, np.zeros(4, dtype=np.int64), times.astype(float))
    fixed = covariance(prior, replace(where, time=none), replace(where, time=none))
    model = covariance(prior, where, where)
    np.testing.assert_allclose(model - fixed, np.cov(drawn.T), rtol=0.04, atol=0.01)
    np.testing.assert_allclose(variance(prior, where), np.diagonal(model), rtol=1e-12)


@pytest.mark.parametrize("stray", [50.0, 53.0, 58.0, 70.0])
def test_stray_catch_is_weighed_as_integration_weighs_it(stray: float) -> None:
    """Reference: the level of one row under Student's t noise, by numerical integration over the level."""
    prior = replace(Prior(), noise_catches=1e12, slope=0.0, row_slope=0.0, bend=0.0, rough=0.0, row=0.05, reset=1e-4)
    grams = [50.0, 50.5, 49.5, 50.2, stray]
    found = caught(*((1, 12.0, one) for one in grams))
    logs = np.log(np.array(grams) / 50)
    width = float(np.hypot(prior.level, prior.row))

    def density(level: float) -> float:
        return float(
            np.exp(stats.norm.logpdf(level, 0, width) + stats.t.logpdf(logs - level, prior.tails, 0, 0.025).sum())
        )

    total = integrate.quad(density, -0.2, 0.3, points=[0.0, 0.02])[0]
    first = integrate.quad(lambda u: u * density(u), -0.2, 0.3, points=[0.0, 0.02])[0] / total
    second = integrate.quad(lambda u: (u - first) ** 2 * density(u), -0.2, 0.3, points=[0.0, 0.02])[0] / total
    got, deviation = given_catches(found, prior).at(points([1], [12.0]))
    assert got[0] == pytest.approx(first, abs=0.002)
    assert deviation[0] == pytest.approx(second**0.5, rel=0.15)


def test_noise_is_learnt() -> None:
    generator = np.random.default_rng(5)
    rough, calm = (
        given_catches(
            [Catch(1, run, 12.0, 50 * float(np.exp(generator.normal(0, s)))) for run in range(60)], Prior(tails=1e6)
        )
        for s in (0.05, 0.01)
    )
    assert np.mean(rough.spread) ** 0.5 == pytest.approx(0.05, rel=0.2)
    assert np.mean(calm.spread) ** 0.5 == pytest.approx(0.0135, rel=0.2)


def test_nothing_caught_leaves_the_prior() -> None:
    where = points([1, 2], [12.0, 14.0])
    got, deviation = given_catches([], Prior()).at(where)
    np.testing.assert_allclose(got, mean(Prior(), where))
    np.testing.assert_allclose(deviation, np.sqrt(variance(Prior(), where)))


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 4), st.integers(2, 80), st.floats(20, 90)), min_size=2, max_size=12),
    st.integers(1, 4),
    st.integers(2, 80),
)
def test_more_catches_never_widen_the_posterior(found: list[tuple[int, int, float]], row: int, half: int) -> None:
    every = caught(*((r, n / 2, grams) for r, n, grams in found))
    prior = replace(Prior(), tails=1e9, noise_catches=1e12)
    where = points([row], [half / 2])
    wide, narrow = (given_catches(some, prior).at(where)[1][0] for some in (every[:-1], every))
    assert narrow <= wide * (1 + 1e-6)


def test_a_catch_at_another_speed_is_corrected_by_the_exponent() -> None:
    """Gravity meters give twice as much over a course driven at half the speed (SPEED-LAW)."""
    gravity = Prior(exponent=1.0, exponent_sd=0.01)
    slow = [Catch(1, 0, 12.0, 100.0, float(np.log(0.5)))]
    got, _ = given_catches(slow, gravity).at(points([1], [12.0]))
    assert np.exp(got[0]) == pytest.approx(1.0, abs=0.01)


def test_earlier_catches_teach_the_slope_but_not_the_level() -> None:
    prior = Prior()
    past = [
        Catch(r, n, p, 50 * (p / 12) ** 0.6, earlier=True)
        for n, p in enumerate([10.0, 12.0, 14.0])
        for r in range(1, 9)
    ]
    now = [Catch(1, 0, 12.0, 60.0)]
    where = points([1], [9.0])
    _, alone = given_catches(now, prior).at(where)
    got, taught = given_catches([*now, *past], prior).at(where)
    assert got[0] == pytest.approx(np.log(60 / 50) + 0.6 * np.log(9 / 12), abs=0.03)
    assert taught[0] < 0.6 * alone[0]


@pytest.mark.parametrize("seasons", [1, 2, 4])
def test_more_earlier_catches_narrow_more(seasons: int) -> None:
    where = points([1], [9.0])

    def width(runs: int) -> float:
        past = [Catch(r, n, [10.0, 14.0][n % 2], 50.0, earlier=True) for n in range(runs) for r in range(1, 5)]
        return float(given_catches([Catch(1, 0, 12.0, 60.0), *past], replace(Prior(), tails=1e9)).at(where)[1][0])

    assert width(2 * seasons) < width(2 * seasons - 1)


@pytest.mark.parametrize("noise", [0.001, 0.02, 0.05, 0.1])
def test_rounding_that_comes_back_is_at_least_what_it_is(noise: float) -> None:
    """Reference: the mean error of a rounded reading over every place between two steps, by summing its normal law."""
    step = 0.1
    places = (np.arange(400) + 0.5) / 400 * step
    marks = np.arange(-20, 22) * step
    edges = np.concatenate([[-np.inf], (marks[:-1] + marks[1:]) / 2, [np.inf]])
    shares = np.diff(stats.norm.cdf((edges - places[:, None]) / noise), axis=1)
    true = float(np.mean((shares @ marks - places) ** 2))
    given_model = readings([Catch(1, 0, 12.0, 50.0), Catch(1, 1, 12.0, 50.0)], 50.0, NOMINAL, Scale(noise, step))
    shared = float(given_model.shared[0, 1])
    assert true <= shared * 1.01 + 1e-12
    assert shared + given_model.own[0] - noise**2 == pytest.approx(GRAIN * step**2)
    if noise == 0.001:
        assert true == pytest.approx(shared, rel=0.08)


def test_the_error_of_a_container_is_never_averaged_out() -> None:
    many = [Catch(1, run, 12.0, 50.0) for run in range(200)]
    _, fine = given_catches(many, Prior()).at(points([1], [12.0]))
    _, coarse = given_catches(many, Prior(), Scale(0.025, container=0.1)).at(points([1], [12.0]))
    assert fine[0] < 0.005
    assert coarse[0] > 0.9 * 0.1 / 12**0.5


def test_readings_hold_what_was_caught() -> None:
    found: Readings = readings(CATCHES, 50.0, NOMINAL, Scale(0.02))
    np.testing.assert_allclose(np.exp(found.logs) * 50, [c.grams for c in CATCHES])
    np.testing.assert_allclose(found.own, 0.02**2)
    assert not found.shared.any()


@pytest.mark.parametrize(
    ("dial", "position", "place"),
    [
        (DIAL, 24.0, np.log(2)),
        (DIAL, 12.0, 0.0),
        (Dial.numbered(0, 40, 1), 0.0, np.log(0.5 / 12)),
        (Dial.numbered(-10, 40, 0.5), 13.0, 0.1),
        (Dial.marked(tuple("ABCDEFGHIJKLMNOPQRST")), 14.0, 0.1),
    ],
)
def test_nominal_curve(dial: Dial, position: float, place: float) -> None:
    assert Nominal(dial, 12.0).place(np.array([position]))[0] == pytest.approx(place)
