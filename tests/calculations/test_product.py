"""What a field takes, by weight and in bags."""

from __future__ import annotations

import pytest

from engine.calculations.hoppers.product import field_need
from engine.errors import OutOfDomain
from tests.helpers.quantities import q

RATE, SPACING = q("5 lb/acre"), q("30 in")


@pytest.mark.parametrize(
    ("area", "bag", "pounds", "bags"),
    [
        ("80 acre", "50 lb", 400, 8),
        ("80.1 acre", "50 lb", 400.5, 9),
        ("1 acre", "50 lb", 5, 1),
        ("60 acre", "12.5 lb", 300, 24),
    ],
)
def test_a_field_takes_rate_times_area_in_whole_bags(area: str, bag: str, pounds: float, bags: int) -> None:
    found = field_need(RATE, SPACING, q(area), q(bag))
    assert (found.outcome, found.bags) == ("in_bags", bags)
    assert found.total is not None and found.total.to("lb").magnitude == pytest.approx(pounds)


def test_without_bag_or_area_less_is_told() -> None:
    found = field_need(RATE, SPACING, q("80 acre"))
    assert (found.outcome, found.bags) == ("by_weight", None)
    assert field_need(RATE, SPACING, None, q("50 lb")).outcome == "unknown"
    along = field_need(q("8 oz/1000 ft"), SPACING, q("40 acre")).total
    assert along is not None and along.to("lb").magnitude == pytest.approx(348.48)


@pytest.mark.parametrize(("area", "bag"), [("0 acre", "50 lb"), ("80 acre", "0 lb"), ("-1 acre", "50 lb")])
def test_no_area_and_no_bag_of_nothing(area: str, bag: str) -> None:
    with pytest.raises(OutOfDomain):
        field_need(RATE, SPACING, q(area), q(bag))
