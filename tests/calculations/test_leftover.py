"""What is left over against the books."""

from __future__ import annotations

import math

import pytest

from engine.calculations.hoppers.leftover import left_over, put_away_check
from engine.errors import OutOfDomain
from tests.helpers.quantities import q, rows


def test_what_all_hoppers_hold_and_how_sure_that_is() -> None:
    """Three of 30 lb, read within 2 %; 10 lb and 6 lb of use since the last look, sure within 5 % together."""
    found = left_over(rows("20 lb", "24 lb", "30 lb"), rows("30 lb", "30 lb", "30 lb"), {1: q("10 lb"), 2: q("6 lb")})
    assert found.total.to("lb").magnitude == pytest.approx(74)
    assert found.doubt.to("lb").magnitude == pytest.approx(math.hypot(math.sqrt(3 * 0.6**2), 0.8))


def test_units_go_together() -> None:
    found = left_over({1: q("1 kg"), 2: q("1 lb")}, {}, {})
    assert found.total.to("lb").magnitude == pytest.approx(1 / 0.45359237 + 1)
    assert found.doubt.magnitude == 0


@pytest.mark.parametrize(
    ("weighed", "outcome", "gap"),
    [
        ("60 lb", "agrees", 0),
        ("62 lb", "agrees", 2),
        ("58 lb", "agrees", 2),
        ("62.1 lb", "more", 2.1),
        ("57.9 lb", "less", 2.1),
        ("0 lb", "less", 60),
    ],
)
def test_weighed_and_booked_may_differ_by_two_deviations(weighed: str, outcome: str, gap: float) -> None:
    found = put_away_check(q("60 lb"), q("1 lb"), q(weighed))
    assert (found.outcome, found.difference.to("lb").magnitude) == (outcome, pytest.approx(gap))


def test_nothing_weighed_says_nothing() -> None:
    found = put_away_check(q("60 lb"), q("1 lb"))
    assert (found.outcome, found.difference.magnitude) == ("not_weighed", 0)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: left_over({1: q("-1 lb")}, {}, {}),
        lambda: left_over({}, {1: q("-1 lb")}, {}),
        lambda: left_over({}, {}, {1: q("-1 lb")}),
        lambda: put_away_check(q("-1 lb"), q("1 lb")),
        lambda: put_away_check(q("1 lb"), q("-1 lb")),
        lambda: put_away_check(q("1 lb"), q("1 lb"), q("-1 lb")),
    ],
)
def test_less_than_nothing(wrong: object) -> None:
    with pytest.raises(OutOfDomain):
        wrong()  # type: ignore[operator]
