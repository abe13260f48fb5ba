"""The plan of a test run: scale, container, course, and how many catches."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from engine.calculations.runs.run import catches_needed, container_check, course_advice, run_plan, scale_step_share
from engine.errors import OutOfDomain
from engine.quantities import quantity
from tests.helpers.quantities import q


@pytest.mark.parametrize(
    ("catch", "outcome", "needed"),
    [("100 g", "long_enough", 300), ("99.9 g", "too_short", 300.3), ("200 g", "long_enough", 150)],
)
def test_a_hundred_steps_of_the_scale_are_enough(catch: str, outcome: str, needed: float) -> None:
    advice = course_advice(q(catch), q("300 ft"), q("1 g"))
    assert advice.outcome == outcome
    assert advice.course.to("foot").magnitude == pytest.approx(needed, rel=1e-5)
    assert advice.share == scale_step_share(q("1 g"), q(catch))


@given(st.floats(1, 1000), st.floats(1, 1000), st.floats(0.1, 30), st.floats(0.001, 0.2))
def test_on_the_advised_course_the_step_is_the_allowed_share(
    catch: float, course: float, step: float, allowed: float
) -> None:
    grams, feet = quantity(catch, "g"), quantity(course, "ft")
    advice = course_advice(grams, feet, quantity(step, "g"), quantity(allowed, "1"))
    longer = grams * (advice.course / feet)
    assert scale_step_share(quantity(step, "g"), longer).magnitude == pytest.approx(allowed)


@pytest.mark.parametrize(
    ("catch", "outcome"),
    [
        ("90 g", "holds"),
        ("90.1 g", "nearly_full"),
        ("100 g", "nearly_full"),
        ("100.1 g", "overflows"),
        ("10 g", "holds"),
    ],
)
def test_a_container_holds_nine_tenths(catch: str, outcome: str) -> None:
    found = container_check(q(catch), q("0.5 g/mL"), q("200 mL"), q("90 ft"))
    assert found.outcome == outcome
    assert found.fill.magnitude == pytest.approx(q(catch).magnitude / 100)
    assert found.course.to("foot").magnitude == pytest.approx(90 * 90 / q(catch).magnitude)


@pytest.mark.parametrize(
    ("catch", "container", "outcome", "feet"),
    [
        ("100 g", None, "good", 300),
        ("50 g", None, "longer", 600),
        ("100 g", "250 mL", "good", 300),
        ("100 g", "223 mL", "good", 300),
        ("100 g", "222.2 mL", "finer_scale", 299.97),
        ("200 g", "400 mL", "shorter", 270),
        ("200 g", "222.3 mL", "shorter", 150.0525),
        ("200 g", "222.2 mL", "finer_scale", 149.985),
        ("50 g", "250 mL", "longer", 600),
        ("50 g", "200 mL", "finer_scale", 540),
    ],
)
def test_a_plan_suits_the_scale_and_the_container(catch: str, container: str | None, outcome: str, feet: float) -> None:
    volume = q(container) if container else None
    plan = run_plan(q(catch), q("300 ft"), q("1 g"), container=volume, density=q("0.5 g/mL"))
    assert plan.outcome == outcome
    assert plan.course.to("foot").magnitude == pytest.approx(feet, rel=1e-6)
    caught = q(catch).magnitude * feet / 300
    assert plan.share.magnitude == pytest.approx(1 / caught)
    if volume is None:
        assert plan.fill is None
    else:
        assert plan.fill is not None
        assert plan.fill.magnitude == pytest.approx(caught / 0.5 / volume.magnitude)


def test_a_container_without_a_density_is_not_judged() -> None:
    assert run_plan(q("100 g"), q("300 ft"), q("1 g"), container=q("1 mL")).outcome == "good"


def test_a_plan_may_allow_a_coarser_step() -> None:
    assert run_plan(q("50 g"), q("300 ft"), q("1 g"), allowed=q("2 %")).outcome == "good"


@pytest.mark.parametrize(
    ("noise", "tolerance", "confidence", "needed"),
    [
        ("2 %", "5 %", "90 %", 1),
        ("5 %", "5 %", "90 %", 3),
        ("3 %", "2 %", "95 %", 9),
        ("2 %", "4 %", "95.4499736 %", 1),
    ],
)
def test_catches_needed(noise: str, tolerance: str, confidence: str, needed: int) -> None:
    assert catches_needed(q(noise), q(tolerance), q(confidence)) == needed


@given(st.floats(0.005, 0.2), st.floats(0.01, 0.2), st.floats(0.5, 0.99))
def test_that_many_catches_are_enough_and_one_fewer_is_not(noise: float, tolerance: float, confidence: float) -> None:
    needed = catches_needed(quantity(noise, "1"), quantity(tolerance, "1"), quantity(confidence, "1"))

    def within(catches: int) -> float:
        return float(2 * stats.norm.cdf(tolerance / noise * math.sqrt(catches)) - 1)

    assert within(needed) >= confidence - 1e-6
    assert needed == 1 or within(needed - 1) < confidence + 1e-6


@pytest.mark.parametrize("confidence", ["0 %", "100 %"])
def test_nobody_is_never_or_always_sure(confidence: str) -> None:
    with pytest.raises(OutOfDomain, match="confidence"):
        catches_needed(q("2 %"), q("5 %"), q(confidence))
