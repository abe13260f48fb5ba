"""Use of each hopper against expectation, held against densities computed by another library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import multivariate_normal

from engine.calculations.hopper import hopper_area
from engine.calculations.use import SURELY_SEEN, RowUse, expected_use, fed_area, row_use, unseen_area, use_doubt
from engine.errors import OutOfDomain
from engine.quantities import Quantity, quantity
from tests.helpers.quantities import q, rows

RATE, SPACING = q("8.712 lb/acre"), q("30 in")
READING = q("0.6 lb")


def pounds(*masses: float) -> dict[int, Quantity]:
    return {row: quantity(mass, "lb") for row, mass in enumerate(masses, 1)}


def chances(found: RowUse) -> list[float]:
    return [found.probabilities[row].magnitude for row in sorted(found.probabilities)]


def by_integration(
    masses: tuple[float, ...], expected: float, reading: float, spread: float, common: float
) -> list[float]:
    """Bayes' rule with scipy's normal density and numerical integration over what is missing."""
    shares = np.array(masses) / expected - 1
    count = len(masses)
    normal = multivariate_normal(
        np.zeros(count), np.eye(count) * (spread**2 + (reading / expected) ** 2) + common**2 * np.ones((count, count))
    )
    sound = normal.logpdf(shares)
    found = []
    for row in range(count):

        def density(missing: float, row: int = row) -> float:
            return float(np.exp(normal.logpdf(shares + missing * np.eye(count)[row]) - sound)) / 0.9

        likely = min(max(float(np.median(shares) - shares[row]), 0.1), 1.0)
        ratio, _ = quad(density, 0.1, 1.0, points=[likely], limit=400)
        found.append(0.03 * ratio / (0.97 + 0.03 * ratio))
    return found


@pytest.mark.parametrize(
    ("masses", "row", "outcome"),
    [
        ((20.0, 20.3, 15.0, 19.8, 20.1, 19.9), 3, "under_feeds"),
        ((20.0, 20.3, 18.9, 19.8, 20.1, 19.9), 3, "alike"),
        ((18.0, 18.3, 13.6, 17.8, 18.1, 17.9), 3, "under_feeds"),
        ((20.0, 20.3, 17.2, 19.8, 20.1, 19.9), 3, "alike"),
    ],
)
def test_the_worked_example_by_another_way(masses: tuple[float, ...], row: int, outcome: str) -> None:
    found = row_use(pounds(*masses), q("20 lb"), READING)
    assert chances(found) == pytest.approx(by_integration(masses, 20, 0.6, 0.03, 0.05), rel=1e-6, abs=1e-12)
    assert (found.row, found.outcome) == (row, outcome)
    others = [mass for other, mass in enumerate(masses, 1) if other != row]
    assert found.delivered.magnitude == pytest.approx(masses[row - 1] / np.mean(others))
    assert found.probability == found.probabilities[row]


masses = st.lists(st.floats(0, 40), min_size=3, max_size=24)


@given(masses, st.floats(0.1, 5), st.floats(0.01, 0.1), st.floats(0, 0.2))
def test_chances_are_chances_and_fall_with_use(found: list[float], reading: float, spread: float, doubt: float) -> None:
    result = row_use(pounds(*found), q("20 lb"), quantity(reading, "lb"), quantity(spread, "1"), quantity(doubt, "1"))
    chance = dict(enumerate(chances(result), 1))
    assert all(0 <= one <= 1 for one in chance.values())
    for row, mass in enumerate(found, 1):
        for other, much in enumerate(found, 1):
            if mass <= much:
                assert chance[row] >= chance[other] - 1e-9


@given(st.lists(st.floats(5, 25), min_size=3, max_size=12), st.floats(0.01, 100))
def test_twice_as_much_of_everything_says_the_same(found: list[float], times: float) -> None:
    one = row_use(pounds(*found), q("20 lb"), READING)
    scaled = row_use(pounds(*(times * mass for mass in found)), times * q("20 lb"), times * READING)
    assert chances(scaled) == pytest.approx(chances(one), rel=1e-6, abs=1e-9)


@given(st.floats(0.3, 3))
def test_a_coarser_scale_knows_less(more: float) -> None:
    fine = row_use(pounds(20, 20, 15, 20), q("20 lb"), READING)
    coarse = row_use(pounds(20, 20, 15, 20), q("20 lb"), READING + quantity(more, "lb"))
    assert coarse.probability < fine.probability


def test_two_rows_may_be_named_and_a_stopped_row_is_certain() -> None:
    found = row_use(pounds(20, 20, 0, 20, 14, 20, 20, 20), q("20 lb"), READING)
    assert [row for row, chance in enumerate(chances(found), 1) if chance > 0.5] == [3, 5]
    assert found.row == 3
    assert found.probability.magnitude > 0.999
    assert found.delivered.magnitude == 0


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: row_use(pounds(1, 1), q("1 lb"), READING),
        lambda: row_use(pounds(1, -1, 1), q("1 lb"), READING),
        lambda: row_use(pounds(1, 1, 1), q("0 lb"), READING),
        lambda: row_use(pounds(1, 1, 1), q("1 lb"), q("-1 lb")),
        lambda: row_use(pounds(1, 1, 1), q("1 lb"), READING, q("0 %")),
        lambda: fed_area(pounds(1), q("5 acre"), READING, RATE, SPACING, 0),
        lambda: fed_area(pounds(1), q("0 acre"), READING, RATE, SPACING, 8),
    ],
)
def test_use_that_means_nothing(wrong: object) -> None:
    with pytest.raises(OutOfDomain):
        wrong()  # type: ignore[operator]


@given(st.floats(1, 40), st.integers(1, 48))
def test_a_full_hopper_is_expected_to_be_used_on_its_area(mass: float, planter: int) -> None:
    area = hopper_area(quantity(mass, "lb"), RATE, SPACING, planter)
    assert expected_use(area, RATE, SPACING, planter).to("pound").magnitude == pytest.approx(mass)
    seen = unseen_area(quantity(mass, "lb"), RATE, SPACING, planter, q("10 %"))
    assert seen.magnitude == pytest.approx(area.magnitude / 10)


def test_nothing_is_used_on_no_ground() -> None:
    assert expected_use(q("0 acre"), RATE, SPACING, 8).magnitude == 0


def test_how_far_each_row_fed_for_certain() -> None:
    """8 rows at 8.712 lb/acre use 1.089 lb a row and acre of the machine: 10 lb less twice 0.6 lb are 8.08 acres."""
    used = rows("10 lb", "1 lb", "12 lb", "0 lb", "9 lb", "9 lb", "9 lb", "9 lb")
    found = {
        row: area.to("acre").magnitude for row, area in fed_area(used, q("9 acre"), READING, RATE, SPACING, 8).items()
    }
    assert found[1] == pytest.approx((10 - 1.2) / 1.089)
    assert (found[2], found[4]) == (0, 0)
    assert found[3] == pytest.approx(9)


def test_a_row_is_named_from_one_half_on() -> None:
    found = [row_use(pounds(20, 20.3, 18 - step / 200, 19.8, 20.1, 19.9), q("20 lb"), READING) for step in range(800)]
    for one in found:
        assert (one.outcome == "under_feeds") == (one.probability.magnitude >= 0.5)
    near = [one.probability.magnitude for one in found]
    assert any(0.49 < chance < 0.5 for chance in near) and any(0.5 < chance < 0.51 for chance in near)


def test_a_row_that_used_far_more_does_not_under_feed_and_where_nothing_was_used_rows_are_alike() -> None:
    found = row_use(pounds(20, 20, 40, 20), q("20 lb"), q("0.02 lb"), q("0.1 %"), q("0 %"))
    assert found.probabilities[3].magnitude == 0
    assert row_use(pounds(0, 0, 0), q("20 lb"), READING).delivered.magnitude == 1


@pytest.mark.parametrize(("refills", "variance"), [(1, 0.0006), (2, 0.0012), (3, 0.0018)])
def test_doubt_of_a_use_over_refills(refills: int, variance: float) -> None:
    """A reading of 2 % and two fills of 1 % of 30 lb each time."""
    assert use_doubt(q("30 lb"), refills).to("lb").magnitude == pytest.approx(30 * variance**0.5)
    assert use_doubt(q("30 lb")) == use_doubt(q("30 lb"), 1)


def test_what_the_eye_does_not_see() -> None:
    """8 hoppers of 30 lb at 8.712 lb/acre last 27.548 acres: 7 % of that is seen, and 9 % surely."""
    lasts = 240 / 8.712
    assert unseen_area(q("30 lb"), RATE, SPACING, 8).to("acre").magnitude == pytest.approx(0.07 * lasts)
    assert unseen_area(q("30 lb"), RATE, SPACING, 8, SURELY_SEEN).to("acre").magnitude == pytest.approx(0.09 * lasts)
