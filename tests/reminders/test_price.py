"""What each plan of looking costs and promises; nights in tests/simulation hold the promises."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.quantities import quantity
from engine.reminders.inspection import DEFAULT, PACE_DOUBT, EachFilling, RefillsOnly, WithinArea
from engine.reminders.price import Outfit, price
from engine.reminders.rules import PlantingPace
from engine.reminders.sight import Sight, unseen_by
from tests.helpers.quantities import q

# 8 rows of 30 in at 5 mph and 66 % plant 20 x 5 x 0.66 / 8.25 = 8 acres an hour; 30 lb at 8 lb/acre last 30 acres.
OUTFIT = Outfit(8, q("30 in"), q("30 lb"), q("8 lb/acre"), PlantingPace(q("5 mph"), q("20 ft"), q("66 %")))
NIGHT = timedelta(hours=12)
LATE = 8 * 2.5 / 60


def acres(area: object) -> float:
    return float(area.to("acre").magnitude)  # type: ignore[attr-defined]


def test_a_night_of_refills_only() -> None:
    """96 acres at 25.5 a filling: three refills. 25.5 acres and 5 % more, 9 % of 30 unseen, and 2.5 minutes."""
    found = price(RefillsOnly(), OUTFIT, NIGHT)
    assert (found.looks, found.walks) == (3, 0)
    assert acres(found.within) == pytest.approx(25.5 * 1.05 + 2.7 + LATE)
    assert acres(found.within_row) == pytest.approx(acres(found.within) / 8)


def test_a_night_by_the_default() -> None:
    """One walk in each of the three fillings and one in the last, which ends after 19.5 acres. The longest stretch is
    that from the middle, at 12 acres and what is planted until it is answered, to the refill."""
    found = price(DEFAULT, OUTFIT, NIGHT)
    assert (found.looks, found.walks) == (7, 4)
    assert acres(found.within) == pytest.approx((25.5 - 12 - LATE) * (1 + PACE_DOUBT) + 2.7 + LATE)


def test_acres_that_may_be_lost_are_what_is_promised() -> None:
    for area in (10.0, 15.0):
        assert acres(price(WithinArea(quantity(area, "acre")), OUTFIT, NIGHT).within) == pytest.approx(area, rel=0.02)


def test_what_shows_at_once_is_found_sooner() -> None:
    by = {sight: price(DEFAULT, replace(OUTFIT, sight=sight), NIGHT) for sight in Sight}
    assert acres(by[Sight.HOPPER].within) - acres(by[Sight.OUTLET].within) == pytest.approx(2.7)
    assert by[Sight.OUTLET].within < by[Sight.STICK].within < by[Sight.HOPPER].within
    unseen = {sight: acres(unseen_by(sight, q("30 lb"), q("8 lb/acre"), q("30 in"), 8)) for sight in Sight}
    assert unseen == {
        Sight.HOPPER: pytest.approx(2.7),
        Sight.STICK: pytest.approx(30 * 2 * 5**0.5 / 100),
        Sight.OUTLET: 0,
    }


def test_the_growers_own_time_is_paid_for() -> None:
    """A look every hour at the latest, answered after 2.5 minutes: 8.3 acres, three between two refills."""
    found = price(RefillsOnly(), replace(OUTFIT, own=timedelta(hours=1)), NIGHT)
    assert found.walks == 11


@given(st.integers(2, 24), st.floats(10, 60), st.floats(3, 20), st.floats(1, 14))
def test_more_looks_never_find_later(rows: int, hopper: float, rate: float, hours: float) -> None:
    outfit = replace(OUTFIT, rows=rows, hopper=quantity(hopper, "lb"), rate=quantity(rate, "lb/acre"))
    length = timedelta(hours=hours)
    few, more, most = (price(plan, outfit, length) for plan in (RefillsOnly(), DEFAULT, EachFilling(2)))
    assert few.walks == 0
    assert few.walks <= more.walks <= most.walks
    assert acres(few.within) + 1e-9 >= acres(more.within)
    assert few.looks - few.walks == more.looks - more.walks
