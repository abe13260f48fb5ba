"""What must hold whatever the numbers: scaling, inverse pairs, and agreement with other people's arithmetic."""

from __future__ import annotations

import math

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.calculations.catch import net_catch, poured_catch
from engine.calculations.course import course_speed, course_time, true_speed
from engine.calculations.coverage import pass_area, row_length, work_rate
from engine.calculations.hoppers.drawdown import drawdown
from engine.calculations.rate import applied_rate, area_rate, rate_along_row, row_rate
from engine.calculations.runs.uniformity import spread
from engine.calculations.target import target_catch, target_volume
from engine.quantities import UNITS, Dimension, Quantity, quantity

amount = st.floats(0.01, 10_000)
row_count = st.integers(1, 48)
PINT: pint.UnitRegistry[float] = pint.UnitRegistry()
PINT.define("survey_foot = foot")


def unit(dimension: Dimension) -> st.SearchStrategy[str]:
    return st.sampled_from([symbol for symbol, one in UNITS.items() if one.dimension is dimension])


def of(dimension: Dimension) -> st.SearchStrategy[Quantity]:
    return st.builds(quantity, amount, unit(dimension))


lengths, masses, speeds = of(Dimension.LENGTH), of(Dimension.MASS), of(Dimension.SPEED)
rates = of(Dimension.AREA_RATE) | of(Dimension.ROW_RATE)


def same(one: Quantity, other: Quantity) -> bool:
    return math.isclose(one.to_base_units().magnitude, other.to_base_units().magnitude, rel_tol=1e-9)


@given(rates, lengths, lengths)
def test_the_target_catch_is_caught_at_the_wanted_rate(rate: Quantity, spacing: Quantity, course: Quantity) -> None:
    catch = target_catch(rate, spacing, course)
    assert same(applied_rate(catch, spacing, course), area_rate(rate, spacing))
    assert same(row_rate(catch, course), rate_along_row(rate, spacing))


@given(rates, lengths)
def test_rates_per_area_and_along_the_row_turn_into_each_other(rate: Quantity, spacing: Quantity) -> None:
    assert same(area_rate(rate_along_row(rate, spacing), spacing), area_rate(rate, spacing))


@given(of(Dimension.AREA_RATE), lengths, lengths, st.floats(0.1, 10))
def test_twice_the_rate_or_course_or_spacing_is_twice_the_catch(
    rate: Quantity, spacing: Quantity, course: Quantity, times: float
) -> None:
    one = target_catch(rate, spacing, course)
    assert same(target_catch(rate * times, spacing, course), one * times)
    assert same(target_catch(rate, spacing * times, course), one * times)
    assert same(target_catch(rate, spacing, course * times), one * times)


@given(of(Dimension.ROW_RATE), lengths, lengths, lengths)
def test_spacing_does_not_matter_to_a_rate_along_the_row(
    rate: Quantity, spacing: Quantity, other: Quantity, course: Quantity
) -> None:
    assert target_catch(rate, spacing, course) == target_catch(rate, other, course)


@given(masses, of(Dimension.DENSITY))
def test_a_mass_poured_into_a_tube_and_back_is_the_same(mass: Quantity, density: Quantity) -> None:
    assert same(poured_catch(target_volume(mass, density), density), mass)


@given(lengths, speeds)
def test_the_time_over_a_course_shows_the_speed(course: Quantity, speed: Quantity) -> None:
    assert same(true_speed(course, course_time(course, speed)), speed)


@given(lengths, speeds, st.floats(0.5, 2))
def test_how_far_off_the_speed_is(course: Quantity, planned: Quantity, times: float) -> None:
    found = course_speed(course, course_time(course, planned * times), planned)
    assert found.off.magnitude == pytest.approx(times - 1, abs=1e-9)
    assert found.outcome in ("as_planned", "too_fast" if times > 1 else "too_slow")


@given(masses, masses)
def test_a_container_put_on_and_taken_off_leaves_the_catch(net: Quantity, tare: Quantity) -> None:
    found = net_catch(net + tare, tare)
    assert found.outcome == "fine" or net < tare * 1e-9
    assert math.isclose(found.net.to(net.units).magnitude, net.magnitude, abs_tol=1e-9 * (net + tare).magnitude)


@given(row_count, lengths, lengths)
def test_the_row_in_an_area_is_as_long_as_was_driven(rows: int, spacing: Quantity, course: Quantity) -> None:
    assert same(row_length(pass_area(rows, spacing, course), spacing), rows * course)


@given(lengths, speeds, st.floats(0.01, 1))
def test_an_hour_of_work_is_a_pass_as_long_as_the_speed(width: Quantity, speed: Quantity, efficiency: float) -> None:
    driven = pass_area(1, width, speed * quantity(1, "h")) * efficiency
    assert same(work_rate(width, speed, quantity(efficiency, "1")) * quantity(1, "h"), driven)


@given(row_count, of(Dimension.AREA_RATE), lengths, lengths)
def test_what_all_rows_catch_draws_the_hoppers_down_at_the_rate(
    rows: int, rate: Quantity, spacing: Quantity, course: Quantity
) -> None:
    used = rows * target_catch(rate, spacing, course)
    assert same(drawdown(used, used * 0, pass_area(rows, spacing, course)), rate)


@given(st.lists(st.floats(1, 500), min_size=2, max_size=48))
def test_the_spread_is_what_numpy_finds(grams: list[float]) -> None:
    found = spread({row: quantity(one, "g") for row, one in enumerate(grams, start=1)})
    array = np.array(grams)
    assert found.mean.magnitude == pytest.approx(array.mean())
    assert found.cv.magnitude == pytest.approx(array.std(ddof=1) / array.mean(), abs=1e-12)
    assert found.range.magnitude == pytest.approx(np.ptp(array))
    assert [one.magnitude for one in found.deviations.values()] == pytest.approx(list(array / array.mean() - 1))
    assert abs(array[found.worst - 1] - array.mean()) == pytest.approx(np.abs(array - array.mean()).max())


@given(st.lists(st.floats(1, 500), min_size=2, max_size=12), st.floats(0.1, 10))
def test_the_spread_does_not_depend_on_how_much_is_caught(grams: list[float], times: float) -> None:
    one = spread({row: quantity(caught, "g") for row, caught in enumerate(grams)})
    other = spread({row: quantity(caught * times, "g") for row, caught in enumerate(grams)})
    assert one.cv.magnitude == pytest.approx(other.cv.magnitude, abs=1e-9)


def test_of_two_rows_equally_far_off_the_lower_number_is_named() -> None:
    assert spread({4: quantity(9, "g"), 2: quantity(11, "g"), 7: quantity(10, "g")}).worst == 2


@pytest.mark.parametrize("symbol", [*UNITS])
def test_units_are_as_large_as_pints_own(symbol: str) -> None:
    written = UNITS[symbol].pint
    theirs = {"ounce_per_thousand_feet": "ounce / (1000 * foot)", "gram_per_hundred_meters": "gram / (100 * meter)"}
    their_size = PINT.parse_expression(theirs.get(written, written)) * PINT.Quantity(1.0)
    their_size = their_size.to_base_units()
    ours = quantity(1.0, symbol).to_base_units()
    kilograms = 1000.0 ** -ours.dimensionality.get("[mass]", 0)
    assert ours.magnitude * kilograms == pytest.approx(their_size.magnitude, rel=1e-12)


def test_the_acre_is_the_international_one() -> None:
    assert quantity(1, "acre").to("hectare").magnitude == pytest.approx(0.40468564224, rel=1e-12)
    assert PINT.Quantity(1.0, "acre").to("foot ** 2").magnitude == pytest.approx(43560, rel=1e-5)
