"""The drive wheel: turns, the course they stand for, slip, and catches brought to one course."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.calculations.rate import applied_rate
from engine.calculations.wheel import (
    catches_over_course,
    rolling_circumference,
    stationary_rate,
    turned_area,
    turned_course,
    wheel_slip,
    wheel_turns,
)
from engine.errors import OutOfDomain
from engine.quantities import quantity
from tests.helpers.quantities import q, rows


@pytest.mark.parametrize(("course", "turns", "feet"), [("160 ft", 20, 160), ("161 ft", 21, 168), ("1 ft", 1, 8)])
def test_turns_are_whole(course: str, turns: int, feet: float) -> None:
    found = wheel_turns(q(course), q("8 ft"))
    assert found.turns == turns
    assert found.course.to("foot").magnitude == pytest.approx(feet)
    assert found.exact.magnitude == pytest.approx(q(course).magnitude / 8)


@given(st.integers(1, 500), st.floats(0.5, 12))
def test_a_measured_circumference_turns_back_into_its_turns(turns: int, feet: float) -> None:
    course = turned_course(turns, quantity(feet, "ft"))
    around = rolling_circumference(course, turns)
    assert around.to("foot").magnitude == pytest.approx(feet)
    assert wheel_turns(course, around).turns == turns
    assert wheel_slip(course, turns, around).magnitude == pytest.approx(0, abs=1e-9)


@given(st.floats(1, 500), st.integers(1, 100), st.floats(0.5, 12), st.floats(5, 50))
def test_a_standing_catch_shows_the_rate_of_the_course_it_stands_for(
    grams: float, turns: int, around: float, spacing: float
) -> None:
    caught, circumference, width = quantity(grams, "g"), quantity(around, "ft"), quantity(spacing, "in")
    driven = applied_rate(caught, width, turned_course(turns, circumference))
    standing = stationary_rate(caught, turns, circumference, width)
    assert standing.magnitude == pytest.approx(driven.magnitude)
    assert turned_area(turns, circumference, width).magnitude == pytest.approx(
        (caught / driven).to("hectare").magnitude
    )


def test_catches_grow_with_the_course() -> None:
    brought = catches_over_course(rows("10 g", "0 g"), q("100 ft"), q("300 ft"))
    assert [one.to("gram").magnitude for one in brought.values()] == pytest.approx([30, 0])
    with pytest.raises(OutOfDomain, match="row 1"):
        catches_over_course(rows("-1 g"), q("100 ft"), q("300 ft"))


@pytest.mark.parametrize("lengths", [("0 ft", "1 ft"), ("1 ft", "0 ft")])
def test_catches_need_a_course(lengths: tuple[str, str]) -> None:
    with pytest.raises(OutOfDomain):
        catches_over_course(rows("1 g"), q(lengths[0]), q(lengths[1]))


@pytest.mark.parametrize(("course", "slip"), [("72 ft", 0.1), ("80 ft", 0), ("88 ft", -0.1)])
def test_slip_is_what_the_turns_did_not_move(course: str, slip: float) -> None:
    assert wheel_slip(q(course), 10, q("8 ft")).magnitude == pytest.approx(slip)
