"""Use of each hopper against expectation, held against densities computed by another library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import invgamma, norm, t

from engine.calculations.hoppers.hopper import hopper_area
from engine.calculations.hoppers.use import (
    SURELY_SEEN,
    Certainty,
    RowUse,
    certainty,
    expected_use,
    fed_area,
    row_use,
    share_of_others,
    unmoved_rows,
    unseen_area,
    use_doubt,
)
from engine.errors import OutOfDomain
from engine.quantities import Quantity, quantity
from tests.bench_row_use import claims
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
    """Bayes' rule summed over which rows under-feed, what all rows share and their scatter on a fine grid, with
    scipy's densities: the scatter by its prior as a variance (an inverse gamma distribution), not by its logarithm."""
    shares = np.array(masses) / expected - 1
    total, mass = np.zeros(len(shares)), 0.0
    scatters, shifts = np.linspace(spread / 4, 6 * spread, 400), np.linspace(-16 * common, 16 * common, 1601)
    weights = invgamma.pdf(scatters**2, 1.5, scale=1.5 * spread**2) * scatters
    for scatter, weight in zip(scatters, weights, strict=True):
        deviation = np.hypot(scatter, reading / expected)
        off = shares[:, None] - shifts
        feeds = 0.97 * norm.pdf(off / deviation) / deviation
        lacks = 0.03 * (norm.cdf((-0.1 - off) / deviation) - norm.cdf((-1 - off) / deviation)) / 0.9
        joint = weight * t.pdf(shifts / common, 3) * np.prod(feeds + lacks, axis=0)
        total += (joint * lacks / (feeds + lacks)).sum(axis=1)
        mass += joint.sum()
    return [float(one) for one in total / mass]


@pytest.mark.parametrize(
    ("masses", "row", "outcome"),
    [
        ((20.0, 20.3, 15.0, 19.8, 20.1, 19.9), 3, "under_feeds"),
        ((20.0, 20.3, 18.9, 19.8, 20.1, 19.9), 3, "alike"),
        ((18.0, 18.3, 13.6, 17.8, 18.1, 17.9), 3, "under_feeds"),
        ((20.0, 20.3, 17.6, 19.8, 20.1, 19.9), 3, "alike"),
        ((20.0, 21.8, 16.8, 18.5, 21.3, 18.6), 3, "alike"),
    ],
)
def test_the_worked_example_by_another_way(masses: tuple[float, ...], row: int, outcome: str) -> None:
    found = row_use(pounds(*masses), q("20 lb"), READING)
    assert chances(found) == pytest.approx(by_integration(masses, 20, 0.6, 0.03, 0.05), rel=0.02, abs=1e-4)
    assert (found.row, found.outcome) == (row, outcome)
    others = [mass for other, mass in enumerate(masses, 1) if other != row]
    assert found.delivered.magnitude == pytest.approx(masses[row - 1] / np.median(others))
    assert found.probability == found.probabilities[row]


@pytest.mark.parametrize(
    ("used", "row", "share"),
    [((22, 21, 20, 12, 21, 21), 4, 12 / 21), ((20, 10, 20, 20), 2, 0.5), ((10, 20, 30), 3, 2.0)],
)
def test_a_row_is_held_against_the_median_of_the_others(used: tuple[float, ...], row: int, share: float) -> None:
    assert share_of_others(pounds(*used), row).magnitude == pytest.approx(share)


def test_what_is_delivered_is_that_of_the_named_row() -> None:
    found = row_use(pounds(22, 21, 20, 12, 21, 21), q("21 lb"), READING)
    assert (found.row, round(100 * found.delivered.magnitude)) == (4, 57)
    assert row_use(pounds(20, 10, 20, 20), q("20 lb"), READING).delivered.magnitude == pytest.approx(0.5)


@given(st.lists(st.floats(1, 40), min_size=2, max_size=12), st.floats(0.1, 10))
def test_a_share_of_the_others_has_no_unit(used: list[float], times: float) -> None:
    one, other = pounds(*used), pounds(*(times * mass for mass in used))
    assert share_of_others(one, 1).magnitude == pytest.approx(share_of_others(other, 1).magnitude)


def test_rows_that_scatter_more_are_believed_less() -> None:
    """The same row 17 % low beside rows within 1 % and beside rows that lie 10 % apart."""
    even = row_use(pounds(20, 20.2, 16.6, 19.8, 20.1, 19.9, 20, 20), q("20 lb"), READING)
    uneven = row_use(pounds(20, 21.6, 16.6, 18.4, 21.2, 18.9, 21, 19), q("20 lb"), READING)
    assert even.probability.magnitude > 0.5 > uneven.probability.magnitude


def test_a_rate_far_from_the_calibrated_one_hides_no_row() -> None:
    """Every row used a third more than it should have by the books, and one of them 28 % less than the others."""
    found = row_use(pounds(25, 25, 25, 25, 24, 25, 18, 25), q("18.8 lb"), q("0.98 lb"))
    assert (found.row, found.outcome) == (7, "under_feeds")
    assert found.probability.magnitude > 0.9


@pytest.mark.campaign
def test_what_is_stated_is_so_whatever_the_rows_scatter() -> None:
    """Rows that scatter 3 and 5 %, three in a hundred of them under-feeding: of those stated near p a share near p do.
    ``python -m tests.bench_row_use`` measures it on many more."""
    for scatter in (0.03, 0.05):
        found = claims(np.random.default_rng(5), 8, scatter, 250)
        sure = found.stated >= 0.9
        assert found.true[sure].mean() >= found.stated[sure].mean() - 0.05
        assert ((found.stated >= 0.5) & ~found.true).sum() / 250 <= 0.03


@pytest.mark.parametrize(
    ("chance", "percent", "over"),
    [(0.0, 0, False), (0.504, 50, False), (0.98, 98, False), (0.9899, 99, False), (0.99, 99, True), (1.0, 99, True)],
)
def test_nothing_is_told_as_certain(chance: float, percent: int, over: bool) -> None:
    assert certainty(quantity(chance, "1")) == Certainty(percent, over)


def test_hoppers_that_cannot_have_stayed_full() -> None:
    """Six hoppers of 25 lb, each of which must have lost 10.7 lb: told "row two is half, the rest full"."""
    used = pounds(0, 12.5, 0, 0, 0, 0)
    due = pounds(*[10.7] * 6)
    assert unmoved_rows(used, due, q("0.6 lb")) == (1, 3, 4, 5, 6)
    assert unmoved_rows(used, {3: q("10.7 lb")}, q("0.6 lb")) == (3,)
    assert unmoved_rows(used, pounds(*[1.7] * 6), q("0.6 lb")) == ()
    assert unmoved_rows(pounds(-0.3, 0.6, 0.7), pounds(1.8, 1.8, 1.8), q("0.6 lb")) == (1, 2)


@given(st.lists(st.floats(0, 30), min_size=1, max_size=12), st.floats(2, 5), st.floats(0.05, 2))
def test_a_hopper_that_went_down_as_it_must_is_never_asked_about(used: list[float], k: float, error: float) -> None:
    fed = pounds(*used)
    assert unmoved_rows(fed, fed, quantity(error, "lb"), k) == ()


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
        lambda: share_of_others(pounds(1), 1),
        lambda: share_of_others(pounds(1, 1), 3),
        lambda: certainty(q("101 %")),
        lambda: unmoved_rows(pounds(1), pounds(1), q("0 lb")),
        lambda: unmoved_rows(pounds(1), pounds(-1), READING),
        lambda: unmoved_rows(pounds(1), pounds(1), READING, 1.9),
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
    found = [
        row_use(pounds(20, 20.3, 18 - step / 200, 19.8, 20.1, 19.9), q("20 lb"), READING)
        for step in (*range(0, 800, 40), *range(242, 254))
    ]
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
