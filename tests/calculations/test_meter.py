"""The meter and ground speed."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.calculations.meter import Meter, meter_test, speed_change, speed_change_by_meter
from engine.quantities import quantity
from tests.helpers.quantities import q


def at_twice_the_speed(exponent: float, noise: str = "2 %") -> str:
    caught = quantity(100 * 2**-exponent, "g")
    return meter_test(q("100 g"), q("3 mph"), caught, q("6 mph"), q(noise)).outcome


@pytest.mark.parametrize(
    ("exponent", "outcome"),
    [
        *((-0.26, "odd"), (-0.25, "positive"), (0, "positive"), (0.25, "positive"), (0.26, "between")),
        *((0.5, "between"), (0.74, "between"), (0.75, "gravity"), (1, "gravity"), (1.25, "gravity"), (1.26, "odd")),
    ],
)
def test_the_exponent_names_the_meter(exponent: float, outcome: str) -> None:
    assert at_twice_the_speed(exponent) == outcome


def test_speeds_too_near_each_other_name_nothing() -> None:
    exactly = 0.25 * math.log(2) / math.sqrt(2)
    assert meter_test(q("9 g"), q("3 mph"), q("9 g"), q("6 mph"), quantity(exactly, "1")).outcome == "positive"
    assert meter_test(q("9 g"), q("3 mph"), q("9 g"), q("6 mph"), quantity(exactly * 1.001, "1")).outcome == "too_close"
    assert meter_test(q("9 g"), q("5 mph"), q("9 g"), q("5.5 mph")).outcome == "too_close"
    same = meter_test(q("9 g"), q("5 mph"), q("10 g"), q("5 mph"))
    assert (same.outcome, same.exponent, same.deviation) == ("too_close", None, None)


@given(st.floats(-0.2, 1.2), st.floats(1, 10), st.floats(1, 10), st.floats(10, 500))
def test_the_exponent_comes_back(exponent: float, slow: float, fast: float, grams: float) -> None:
    if abs(math.log(fast / slow)) < 0.15:
        return
    rate = speed_change(q("10 kg/ha"), quantity(slow, "mph"), quantity(fast, "mph"), quantity(exponent, "1"))
    second = quantity(grams, "g") * (1 + rate.change)
    for first_run, second_run in (((grams, slow), (second.magnitude, fast)), ((second.magnitude, fast), (grams, slow))):
        found = meter_test(
            *(quantity(first_run[0], "g"), quantity(first_run[1], "mph")),
            *(quantity(second_run[0], "g"), quantity(second_run[1], "mph")),
        )
        assert found.exponent is not None
        assert found.exponent.magnitude == pytest.approx(exponent, abs=1e-6)


def test_its_deviation_is_that_of_many_noisy_tests() -> None:
    random = np.random.default_rng(7)
    noisy = random.normal(1, 0.02, size=(2, 20_000))
    exponents = np.log(noisy[0] / noisy[1]) / math.log(2)
    found = meter_test(q("50 g"), q("3 mph"), q("50 g"), q("6 mph"))
    assert found.deviation is not None
    assert found.deviation.magnitude == pytest.approx(exponents.std(), rel=0.03)


@pytest.mark.parametrize(
    ("meter", "outcome", "lb"),
    [("positive", "same", 10), ("between", "more", 10 * math.sqrt(1.5)), ("gravity", "more", 15)],
)
def test_slowing_down_by_a_third(meter: Meter, outcome: str, lb: float) -> None:
    found = speed_change_by_meter(q("10 lb/acre"), q("6 mph"), q("4 mph"), meter)
    assert found.outcome == outcome
    assert found.rate.to("pound / acre").magnitude == pytest.approx(lb)
    assert found.change.magnitude == pytest.approx(lb / 10 - 1)


def test_speeding_up_gives_less() -> None:
    assert speed_change_by_meter(q("8 oz/1000 ft"), q("4 mph"), q("6 mph"), "gravity").outcome == "less"
    assert speed_change(q("8 oz/1000 ft"), q("4 mph"), q("6 mph"), q("-10 %")).outcome == "more"
