"""Fault patterns: simulated faults are named, with the numbers that tell them apart."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from engine.calculations.runs.patterns import (
    FaultPattern,
    NextCheck,
    TwoCourses,
    fault_pattern,
    refill_shift,
    scatter,
    two_courses,
)
from engine.errors import OutOfDomain
from engine.quantities import Quantity, quantity
from tests.helpers.quantities import q

TARGET, TOLERANCE = q("50 g"), q("5 %")


def grams(values: list[float]) -> dict[int, Quantity]:
    return {row: quantity(one, "g") for row, one in enumerate(values, start=1)}


def pattern(*percent: float, noise: str = "2 %") -> FaultPattern:
    return fault_pattern(grams([50 * (1 + one / 100) for one in percent]), TARGET, TOLERANCE, q(noise))


@pytest.mark.parametrize(
    ("percent", "outcome", "check"),
    [
        ((0, 1, -1, 2), "none", NextCheck.NOTHING),
        ((5, -5, 5, -5), "none", NextCheck.NOTHING),
        ((0, 1, -1, 5.1), "one_row", NextCheck.LOOK_AT_ROW),
        ((0, 1, -1, -100), "one_row", NextCheck.LOOK_AT_ROW),
        ((12, 13, 11, 12), "all_alike", NextCheck.DOUBLE_COURSE),
        ((-12, -13, -11, -12), "all_alike", NextCheck.DOUBLE_COURSE),
        ((12, 13, 11, 40), "mixed", NextCheck.SET_EACH_ROW),
        ((12, -13, 1, 0), "mixed", NextCheck.SET_EACH_ROW),
        ((8, 8, 8, 14), "all_alike", NextCheck.DOUBLE_COURSE),
        ((8, 8, 8, 14.1), "mixed", NextCheck.SET_EACH_ROW),
        ((8, 8, 8, 1.9), "mixed", NextCheck.SET_EACH_ROW),
    ],
)
def test_one_run(percent: tuple[float, ...], outcome: str, check: NextCheck) -> None:
    found = pattern(*percent)
    assert (found.outcome, found.check) == (outcome, check)
    shift = float(np.median(percent)) / 100
    apart = np.array(percent) / 100 - shift
    assert found.shift.magnitude == pytest.approx(shift)
    assert abs(found.apart.magnitude) == pytest.approx(np.abs(apart).max())
    assert found.apart.magnitude == pytest.approx(apart[found.row - 1])


def test_three_rows_are_enough() -> None:
    assert pattern(0, 0, 20).row == 3
    assert refill_shift(grams([50.0] * 3), grams([50.0, 50.0, 80.0])).row == 3


def test_a_row_caught_only_once_is_named() -> None:
    with pytest.raises(OutOfDomain, match="row 2"):
        refill_shift(grams([50.0] * 3), {1: q("50 g"), 4: q("50 g"), 5: q("50 g")})


def test_the_tolerance_counts_as_alike_where_noise_is_small() -> None:
    assert pattern(8, 8, 8, 13, noise="1 %").outcome == "all_alike"
    assert pattern(8, 8, 8, 13.1, noise="1 %").outcome == "mixed"


def test_a_shift_that_noise_explains_is_not_one_of_all_rows() -> None:
    limit = 200 * 0.02 * math.sqrt(math.pi / 2 / 4)
    assert pattern(limit + 0.01, limit + 0.01, limit + 0.01, 5.5).outcome == "all_alike"
    assert pattern(limit - 0.01, limit - 0.01, limit - 0.01, 5.5).outcome == "one_row"


@pytest.mark.parametrize("caught", [[50.0, 50.0], [50.0, 50.0, -1.0]])
def test_a_pattern_needs_three_rows(caught: list[float]) -> None:
    with pytest.raises(OutOfDomain):
        fault_pattern(grams(caught), TARGET, TOLERANCE)


def courses(percent: float, mass: float, *, rows: int = 8, times: float = 2, noise: str = "2 %") -> TwoCourses:
    def caught(target: float) -> dict[int, Quantity]:
        return grams([target * (1 + percent) + mass] * rows)

    return two_courses(caught(50), TARGET, caught(50 * times), TARGET * times, q(noise))


@pytest.mark.parametrize(
    ("percent", "mass", "outcome", "check"),
    [
        (0, 0, "none", NextCheck.NOTHING),
        (0.10, 0, "same_percent", NextCheck.SPEED_SLIP_COURSE_DENSITY),
        (-0.10, 0, "same_percent", NextCheck.SPEED_SLIP_COURSE_DENSITY),
        (0, 5, "same_mass", NextCheck.WEIGH_EMPTY_CONTAINERS),
        (0, -5, "same_mass", NextCheck.WEIGH_EMPTY_CONTAINERS),
        (0.10, 5, "both", NextCheck.WEIGH_EMPTY_CONTAINERS),
    ],
)
def test_two_courses_tell_a_share_from_a_mass(percent: float, mass: float, outcome: str, check: NextCheck) -> None:
    found = courses(percent, mass)
    assert (found.outcome, found.check) == (outcome, check)


@given(st.floats(-0.3, 0.3), st.floats(-20, 20), st.floats(1.5, 4))
def test_both_parts_come_back(percent: float, mass: float, times: float) -> None:
    found = courses(percent, mass, times=times)
    assert found.percent.magnitude == pytest.approx(percent, abs=1e-9)
    assert found.mass.magnitude == pytest.approx(mass, abs=1e-7)


@given(st.floats(1, 20) | st.floats(-20, -1))
def test_doubling_the_course_halves_a_tare_error_and_keeps_a_share(mass: float) -> None:
    by_mass = courses(0, mass)
    assert by_mass.long_off.magnitude == pytest.approx(by_mass.short_off.magnitude / 2)
    by_share = courses(mass / 100, 0)
    assert by_share.long_off.magnitude == pytest.approx(by_share.short_off.magnitude)


def test_what_is_real_passes_two_standard_deviations() -> None:
    share = 2 * 0.02 / math.sqrt(8) * math.hypot(50, 100) / 50
    mass = 2 * 0.02 / math.sqrt(8) * math.sqrt(2) * 50 * 100 / 50
    assert courses(share * 1.001, 0).outcome == "same_percent"
    assert courses(share * 0.999, 0).outcome == "none"
    assert courses(0, mass * 1.001).outcome == "same_mass"
    assert courses(0, mass * 0.999).outcome == "none"


def test_those_deviations_are_what_many_noisy_pairs_show() -> None:
    random = np.random.default_rng(11)
    short = 50 * random.normal(1, 0.02, size=(20_000, 8)).mean(axis=1)
    long = 100 * random.normal(1, 0.02, size=(20_000, 8)).mean(axis=1)
    percent = (long - short) / 50 - 1
    mass = short - (1 + percent) * 50
    assert percent.std() == pytest.approx(0.02 / math.sqrt(8) * math.hypot(50, 100) / 50, rel=0.03)
    assert mass.std() == pytest.approx(0.02 / math.sqrt(8) * math.sqrt(2) * 50 * 100 / 50, rel=0.03)


@pytest.mark.parametrize(
    ("short", "long", "targets"),
    [
        ([50.0], [100.0], (50, 50)),
        ([50.0], [100.0], (50, 40)),
        ([50.0], [100.0, 100.0], (50, 100)),
        ([], [], (50, 100)),
        ([-1.0], [100.0], (50, 100)),
        ([50.0], [100.0], (0, 100)),
    ],
)
def test_two_courses_need_the_same_rows_and_a_longer_one(
    short: list[float], long: list[float], targets: tuple[float, float]
) -> None:
    with pytest.raises(OutOfDomain):
        two_courses(grams(short), quantity(targets[0], "g"), grams(long), quantity(targets[1], "g"))


@pytest.mark.parametrize(
    ("after", "outcome", "check"),
    [
        ([50.0] * 8, "unchanged", NextCheck.NOTHING),
        ([56.0] * 8, "all_shifted", NextCheck.MEASURE_DENSITY),
        ([44.0] * 8, "all_shifted", NextCheck.MEASURE_DENSITY),
        ([50.0] * 7 + [40.0], "one_row", NextCheck.LOOK_AT_ROW),
        ([50.0] * 7 + [0.0], "one_row", NextCheck.LOOK_AT_ROW),
        ([56.0] * 7 + [80.0], "one_row", NextCheck.LOOK_AT_ROW),
    ],
)
def test_a_refill(after: list[float], outcome: str, check: NextCheck) -> None:
    found = refill_shift(grams([50.0] * 8), grams(after))
    assert (found.outcome, found.check) == (outcome, check)
    assert found.shift.magnitude == pytest.approx(np.median(after) / 50 - 1)
    assert found.apart.magnitude == pytest.approx(after[found.row - 1] / 50 - 1 - found.shift.magnitude)


def test_a_refill_shifts_beyond_what_noise_explains() -> None:
    single = 0.02 * math.sqrt(2)
    shift = 2 * single * math.sqrt(math.pi / 2 / 8)
    before = grams([50.0] * 8)
    assert refill_shift(before, grams([50 * (1 + shift * 1.001)] * 8)).outcome == "all_shifted"
    assert refill_shift(before, grams([50 * (1 + shift * 0.999)] * 8)).outcome == "unchanged"
    assert refill_shift(before, grams([50.0] * 7 + [50 * (1 + 3.003 * single)])).outcome == "one_row"
    assert refill_shift(before, grams([50.0] * 7 + [50 * (1 + 2.997 * single)])).outcome == "unchanged"


@pytest.mark.parametrize(
    ("before", "after"), [([50.0, 50.0], [50.0, 50.0]), ([50.0] * 3, [50.0] * 4), ([0.0, 50.0, 50.0], [50.0] * 3)]
)
def test_a_refill_needs_the_same_three_rows(before: list[float], after: list[float]) -> None:
    with pytest.raises(OutOfDomain):
        refill_shift(grams(before), grams(after))


def runs(*caught: list[float]) -> list[dict[int, Quantity]]:
    return [grams(one) for one in caught]


def test_repeats_that_agree() -> None:
    found = scatter(runs([50, 49], [51, 50]), q("0.1 g"))
    assert (found.outcome, found.check) == ("repeatable", NextCheck.NOTHING)
    assert found.explained.magnitude == pytest.approx(math.hypot(0.02, 0.1 / math.sqrt(12) / 50), rel=1e-9)


def test_repeats_that_do_not_agree_name_the_row() -> None:
    found = scatter(runs([50, 40], [51, 60], [50, 47]), q("0.1 g"))
    assert (found.outcome, found.check, found.row) == ("scattered", NextCheck.CATCH_AGAIN, 2)
    values = np.array([[50, 40], [51, 60], [50, 47]]) / np.array([[50, 40], [51, 60], [50, 47]]).mean(axis=0)
    assert found.scatter.magnitude == pytest.approx(math.sqrt(values.var(axis=0, ddof=1).mean()))


def test_the_row_that_scatters_most_for_its_repeats_is_named() -> None:
    uneven = [grams([50, 50]), grams([54, 55]), {1: q("46 g")}, {1: q("50 g")}]
    assert scatter(uneven, q("0.1 g")).row == 2
    assert scatter(runs([50, 50], [54, 54]), q("0.1 g")).row == 1


@pytest.mark.parametrize(("step", "outcome"), [("10 g", "coarse_scale"), ("0.01 g", "repeatable")])
def test_a_coarse_scale_is_told_from_a_restless_row(step: str, outcome: str) -> None:
    assert scatter(runs([50, 50], [50, 51]), q(step)).outcome == outcome


def test_a_scale_is_coarse_when_its_step_explains_more_than_the_noise() -> None:
    same = 0.02 * 50 * math.sqrt(12)
    assert scatter(runs([50], [50]), quantity(same * 1.001, "g")).outcome == "coarse_scale"
    assert scatter(runs([50], [50]), quantity(same * 0.999, "g")).outcome == "repeatable"


@pytest.mark.parametrize("runs_of_row", [2, 3, 6])
def test_scatter_beyond_one_in_a_hundred_is_a_fault(runs_of_row: int) -> None:
    quantile = math.sqrt(stats.chi2.ppf(0.99, runs_of_row - 1))
    wave = np.resize([1.0, -1.0], runs_of_row) - np.resize([1.0, -1.0], runs_of_row).mean()
    wave /= np.sqrt((wave**2).sum())
    for times, outcome in ((1.01, "scattered"), (0.99, "repeatable")):
        caught = runs(*[[float(100 * (1 + 0.02 * quantile * times * one))] for one in wave])
        assert scatter(caught, q("0.001 g")).outcome == outcome


@pytest.mark.parametrize("caught", [runs([50, 50]), [], runs([50], [-50]), runs([50], [0])])
def test_scatter_needs_a_row_caught_twice(caught: list[dict[int, Quantity]]) -> None:
    with pytest.raises(OutOfDomain):
        scatter(caught, q("1 g"))
