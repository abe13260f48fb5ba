"""Wear: the slope and its interval against other programs, what is not taken for wear, and how often it is wrong."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from engine.calculations.hoppers.wear import NOISE, Drift, Wear, by_season, wear
from engine.errors import InputError, OutOfDomain
from engine.quantities import Quantity, quantity
from engine.values import Dial, Setting

DIAL = Dial.numbered(0, 60, 0.1)
AT = 20.0


def masses(grams: Sequence[float]) -> dict[int, Quantity]:
    return {row: quantity(float(one), "g") for row, one in enumerate(grams, 1)}


def settings(run: dict[int, Quantity], position: float = AT) -> dict[int, Setting]:
    return {row: DIAL.setting(position) for row in run}


def worn(
    needs: Sequence[Sequence[float]], years: Sequence[int] | None = None, common: Sequence[float] | None = None
) -> Wear:
    """The wear of rows that need so much, in natural logarithms, one line a season."""
    caught = [masses([40 * math.exp(-need) for need in season]) for season in needs]
    if common is not None:
        caught = [{row: one * by for row, one in run.items()} for run, by in zip(caught, common, strict=True)]
    when = years or range(2020, 2020 + len(needs))
    seasons = [dict.fromkeys(run, year) for run, year in zip(caught, when, strict=True)]
    return wear(caught, [settings(run) for run in caught], DIAL, seasons)


def against_the_middle(needs: Sequence[Sequence[float]]) -> np.ndarray:
    table = np.array(needs)
    return table - np.median(table, axis=1, keepdims=True)


NEEDS = st.lists(st.lists(st.floats(-0.2, 0.2), min_size=5, max_size=5), min_size=3, max_size=7)


@given(NEEDS)
def test_the_change_is_the_slope_that_scipy_finds(needs: list[list[float]]) -> None:
    found = worn(needs)
    slopes = [stats.linregress(range(len(needs)), column).slope for column in against_the_middle(needs).T]
    assert [math.log1p(one.magnitude) for one in found.change.values()] == pytest.approx(slopes, abs=1e-9)


@given(NEEDS)
def test_the_interval_is_that_of_one_fit_of_all_rows_in_numpy(needs: list[list[float]]) -> None:
    """One least-squares fit with a slope and a level for each row; of n rows against their middle n - 1 are free."""
    found, apart = worn(needs), against_the_middle(needs)
    seasons, rows = apart.shape
    years = np.tile(np.arange(seasons, dtype=float), rows)
    which = np.repeat(np.eye(rows), seasons, axis=0)
    design = np.hstack([which, which * years[:, None]])
    fitted, *_ = np.linalg.lstsq(design, apart.T.ravel(), rcond=None)
    left = (apart.T.ravel() - design @ fitted).reshape(rows, seasons)
    spare = rows * (seasons - 2) * (rows - 1) / rows
    scatter = np.maximum(np.maximum((left**2).sum() / spare, (left**2).sum(axis=1) / (seasons - 2)), NOISE**2)
    wide = np.linalg.inv(design.T @ design).diagonal()[rows:]
    reach = stats.t.ppf(1 - 0.05 / (2 * rows), spare) * np.sqrt(scatter * wide)
    for row in range(rows):
        low, high = found.low[row + 1].magnitude, found.high[row + 1].magnitude
        slope = fitted[rows + row]
        assert [math.log1p(low), math.log1p(high)] == pytest.approx([slope - reach[row], slope + reach[row]], abs=1e-9)


@given(NEEDS, st.lists(st.floats(0.5, 2), min_size=7, max_size=7))
def test_what_moves_all_rows_of_a_run_alike_is_not_wear(needs: list[list[float]], common: list[float]) -> None:
    """Another speed, product or weather: every catch of the run by the same factor."""
    plain, moved = worn(needs), worn(needs, common=common[: len(needs)])
    assert moved.drifts == plain.drifts
    for row, one in plain.change.items():
        assert moved.change[row].magnitude == pytest.approx(one.magnitude, abs=1e-9)


def rising(slope: float, seasons: int = 5, scatter: float = 0.0) -> list[list[float]]:
    wave = np.resize([1.0, -1.0, -1.0, 1.0], (seasons, 1)) * scatter * np.array([1, -1, 1, -1, 0, 0, 0, 0])
    return (wave + np.outer(range(seasons), [0, 0, 0, 0, 0, 0, 0, slope])).tolist()


@pytest.mark.parametrize(
    ("needs", "drift"),
    [
        (rising(0.04), Drift.RISING),
        (rising(-0.04), Drift.FALLING),
        (rising(0.0), Drift.STEADY),
        (rising(0.04, seasons=2), Drift.TOO_LITTLE_DATA),
        (rising(0.04, scatter=0.1), Drift.TOO_LITTLE_DATA),
        (rising(0.009, seasons=9), Drift.STEADY),
        (rising(0.02, seasons=3), Drift.TOO_LITTLE_DATA),
    ],
)
def test_what_the_seasons_of_a_row_show(needs: list[list[float]], drift: Drift) -> None:
    found = worn(needs)
    assert found.drifts[8] is drift
    assert found.seasons[8] == len(needs)
    if drift is Drift.RISING:
        assert (found.outcome, found.row) == (Drift.RISING, 8)
        assert found.change[8].magnitude == pytest.approx(math.expm1(0.04))
    assert Drift.RISING not in [one for row, one in found.drifts.items() if row != 8]


def test_a_higher_setting_for_the_same_catch_is_the_same_need() -> None:
    """A row whose dial is turned up by 5 % every season and that gives what the others give wears by 5 %."""
    caught = [masses([40.0] * 6) for _ in range(5)]
    at = [settings(run) | {6: DIAL.setting(AT * 1.05**year)} for year, run in enumerate(caught)]
    seasons = [dict.fromkeys(run, 2020 + year) for year, run in enumerate(caught)]
    found = wear(caught, at, DIAL, seasons)
    assert (found.outcome, found.row) == ("rising", 6)
    assert found.change[6].magnitude == pytest.approx(0.05, abs=0.004), "a notch is a tenth"


def test_runs_of_one_season_are_one_point_and_seasons_keep_their_distance() -> None:
    needs = [[0, 0, 0, 0.0], [0, 0, 0, 0.2], [0, 0, 0, 0.1], [0, 0, 0, 0.4]]
    found = worn(needs, years=[2020, 2020, 2021, 2024])
    assert found.seasons[4] == 3
    slope = stats.linregress([2020, 2021, 2024], [0.1, 0.1, 0.4]).slope
    assert math.log1p(found.change[4].magnitude) == pytest.approx(slope)


def test_a_run_that_does_not_count_for_a_row_still_shows_the_middle_of_the_others() -> None:
    caught = [masses([40, 40, 40, 40 * math.exp(-0.1 * year)]) for year in range(5)]
    seasons = [{row: 2020 + year for row in run if row < 4 or year > 2} for year, run in enumerate(caught)]
    found = wear(caught, [settings(run) for run in caught], DIAL, seasons)
    assert found.seasons == {1: 5, 2: 5, 3: 5, 4: 2}
    assert found.drifts[4] is Drift.TOO_LITTLE_DATA


def test_a_row_that_bridged_and_runs_of_a_few_rows_say_nothing() -> None:
    whole, few = masses([40, 40, 40, 20, 40, 40, 40, 40]), masses([30, 40])
    seasons = [dict.fromkeys(run, 2020) for run in (whole, few)]
    found = by_season([whole, few], [settings(whole), settings(few)], DIAL, seasons)
    assert 4 not in found
    assert found[1] == pytest.approx({2020: 0.0})


@pytest.mark.parametrize("caught", [[], [masses([40, 40])], [{}]])
def test_without_a_run_of_three_rows_nothing_can_be_said(caught: list[dict[int, Quantity]]) -> None:
    with pytest.raises(InputError):
        wear(caught, [settings(run) for run in caught], DIAL, [dict.fromkeys(run, 2020) for run in caught])


def test_a_catch_below_nothing_is_refused() -> None:
    run = masses([40, 40, 40, -1])
    with pytest.raises(OutOfDomain):
        wear([run], [settings(run)], DIAL, [dict.fromkeys(run, 2020)])


def machine(generator: np.random.Generator, worn_by: float) -> Wear:
    """Eight rows over five seasons, two runs each, catches that scatter by 2.5 % (common practice, no source)."""
    factor = np.exp(generator.normal(0, 0.047, 8))
    needs = []
    for year in range(5):
        now = factor * np.array([(1 - worn_by) ** year, *[1.0] * 7])
        needs += [(-np.log(now) + generator.normal(0, 0.025, 8)).tolist() for _ in range(2)]
    return worn(needs, years=[2020 + run // 2 for run in range(10)])


def test_rows_that_stay_as_they_are_are_hardly_ever_called_worn_and_a_worn_one_is_found() -> None:
    generator = np.random.default_rng(7)
    still = [machine(generator, 0.0) for _ in range(150)]
    assert sum({*one.drifts.values()} & {Drift.RISING, Drift.FALLING} != set() for one in still) <= 0.08 * len(still)
    assert sum(machine(generator, 0.05).drifts[1] is Drift.RISING for _ in range(50)) >= 45
