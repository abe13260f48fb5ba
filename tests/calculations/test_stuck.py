"""Rows that do not follow their dial, and the slope of the others, held against least squares of numpy and scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from engine.calculations.advisor.observations import Catch
from engine.calculations.advisor.response import Nominal
from engine.calculations.advisor.stuck import steepness, stuck_rows
from engine.values import Dial

NOMINAL = Nominal(Dial(low=0, high=30, step=1), reference=15)
PLACES = (12.0, 15.0, 20.0)
FOLLOWING = (
    Catch(1, 1, 15, 60.0),
    Catch(1, 2, 17, 69.0),
    Catch(2, 1, 15, 71.0),
    Catch(2, 2, 13, 61.0),
    Catch(3, 1, 15, 66.0),
    Catch(3, 2, 16, 69.5),
    Catch(3, 3, 18, 82.0),
)


def lazy(grams: tuple[float, ...], places: tuple[float, ...] = PLACES) -> list[Catch]:
    """Row 4."""
    return [Catch(4, run, place, one) for run, (place, one) in enumerate(zip(places, grams, strict=True), 1)]


def slope(found: tuple[Catch, ...]) -> float:
    """Least squares about each row's own mean, with one line more that says 1 with the weight of .01."""
    x, y = [math.sqrt(0.01)], [math.sqrt(0.01)]
    for row in {one.row for one in found}:
        place = np.log([one.position / 15 for one in found if one.row == row])
        log = np.log([one.grams for one in found if one.row == row])
        x += list(place - place.mean())
        y += list(log - log.mean())
    return float(np.linalg.lstsq(np.array(x)[:, None], np.array(y), rcond=None)[0][0])


def test_the_slope_of_the_planter_is_that_of_least_squares() -> None:
    assert steepness(FOLLOWING, NOMINAL) == pytest.approx(slope(FOLLOWING), rel=1e-9)


def test_a_planter_that_answers_hardly_is_taken_to_answer_by_three_tenths() -> None:
    assert steepness(lazy((60.0, 60.0, 60.0)), NOMINAL) == 0.3


def test_a_row_is_stuck_where_three_deviations_leave_it_under_half_the_slope_of_the_others() -> None:
    row = lazy((66.0, 67.0, 69.0))
    own = stats.linregress(np.log([one / 15 for one in PLACES]), np.log([one.grams for one in row]))
    square = np.var(np.log(PLACES)) * len(PLACES)
    noise = (0.5 * slope(FOLLOWING) - own.slope) * math.sqrt(square) / 3
    assert 0.01 < noise < 0.1
    assert stuck_rows([*FOLLOWING, *row], NOMINAL, noise * 0.999) == {4}
    assert stuck_rows([*FOLLOWING, *row], NOMINAL, noise * 1.001) == frozenset()


def test_two_catches_or_one_place_say_nothing() -> None:
    assert stuck_rows([*FOLLOWING, *lazy((66.0, 66.0), (10.0, 25.0))], NOMINAL, 0.001) == frozenset()
    assert stuck_rows([*FOLLOWING, *lazy((66.0, 60.0, 70.0), (15.0, 15.0, 15.0))], NOMINAL, 0.001) == frozenset()
