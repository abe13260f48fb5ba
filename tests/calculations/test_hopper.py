"""Hoppers, stopped rows, drawdown by row, season and uniformity: around the calibration."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.calculations.coverage import pass_area
from engine.calculations.hoppers.drawdown import rate_check, row_drawdown
from engine.calculations.hoppers.hopper import hopper_area, hopper_levels, run_out
from engine.calculations.hoppers.label import season_check
from engine.calculations.hoppers.product import active_ingredient, product_needed, product_rate
from engine.calculations.hoppers.stopped import planted_area, reachable_area, suspect_area
from engine.calculations.runs.uniformity import uniformity
from engine.errors import OutOfDomain
from engine.quantities import quantity
from tests.helpers.quantities import q, rows


def test_the_hopper_with_least_in_it_is_empty_first() -> None:
    found = run_out(rows("30 lb", "20 lb", "20 lb", "0.5 kg"), q("8 oz/1000 ft"), q("30 in"), q("5 mph"), q("50 %"))
    assert found.first == 4
    assert found.soonest == found.times[4]
    feet = 20 * 16 / 8 * 1000
    assert found.times[2].to("hour").magnitude == pytest.approx(feet / 5280 / 2.5)
    assert found.row_length.to("foot").magnitude == pytest.approx(0.5 / 0.45359237 * 16 / 8 * 1000)
    assert run_out(rows("3 lb", "2 lb", "2 lb"), q("5 lb/acre"), q("30 in"), q("5 mph"), q("65 %")).first == 2


def test_an_empty_hopper_is_empty_now() -> None:
    found = run_out(rows("3 lb", "0 lb"), q("5 lb/acre"), q("30 in"), q("5 mph"), q("100 %"))
    assert (found.first, found.soonest.magnitude) == (2, 0)


@pytest.mark.parametrize("hoppers", [{}, {1: "-1 lb"}])
def test_hoppers_that_are_not_there_cannot_run_out(hoppers: dict[int, str]) -> None:
    with pytest.raises(OutOfDomain):
        run_out({row: q(one) for row, one in hoppers.items()}, q("5 lb/acre"), q("30 in"), q("5 mph"), q("65 %"))


@given(st.integers(1, 48), st.floats(1, 100), st.floats(1, 33), st.floats(10, 60), st.floats(1, 10))
def test_hoppers_run_out_where_their_area_ends(
    planter: int, pounds: float, rate: float, spacing: float, speed: float
) -> None:
    mass, per_area, apart = quantity(pounds, "lb"), quantity(rate, "lb/acre"), quantity(spacing, "in")
    area = hopper_area(mass, per_area, apart, planter)
    ends = run_out({1: mass}, per_area, apart, quantity(speed, "mph"), q("65 %"))
    assert pass_area(planter, apart, ends.row_length).magnitude == pytest.approx(area.magnitude)
    planted = planted_area(planter * apart, quantity(speed, "mph"), q("65 %"), ends.soonest)
    assert planted.magnitude == pytest.approx(area.magnitude)
    needed = product_needed(per_area, apart, area, planter)
    assert needed.per_hopper.to("pound").magnitude == pytest.approx(pounds)
    assert needed.total.to("pound").magnitude == pytest.approx(pounds * planter)


@pytest.mark.parametrize(
    ("used", "outcome", "row", "delivered"),
    [
        (("10 lb", "10 lb", "10 lb"), "alike", 1, 1.0),
        (("10 lb", "9 lb", "10 lb"), "alike", 2, 0.9),
        (("10 lb", "8.9 lb", "10 lb"), "stays_full", 2, 0.89),
        (("10 lb", "10 lb", "0 lb"), "stays_full", 3, 0.0),
        (("11 lb", "10 lb", "10 lb"), "alike", 1, 1.1),
        (("10 lb", "10 lb", "11.1 lb"), "empties_fast", 3, 1.11),
        (("8 lb", "10 lb", "12 lb"), "stays_full", 1, 0.8),
    ],
)
def test_hopper_levels(used: tuple[str, ...], outcome: str, row: int, delivered: float) -> None:
    found = hopper_levels(rows(*used))
    assert (found.outcome, found.row, found.delivered.magnitude) == (outcome, row, pytest.approx(delivered))


@pytest.mark.parametrize("used", [("1 lb", "1 lb"), ("0 lb", "0 lb", "3 lb"), ("-1 lb", "1 lb", "1 lb")])
def test_levels_need_three_hoppers_that_went_down(used: tuple[str, ...]) -> None:
    with pytest.raises(OutOfDomain):
        hopper_levels(rows(*used))


def test_one_stopped_row_of_twelve() -> None:
    found = suspect_area(q("24 acre"), 12, 1, q("30 in"), q("8.712 lb/acre"))
    assert found.area.to("acre").magnitude == pytest.approx(2)
    assert found.row_length.to("foot").magnitude == pytest.approx(2 * 17424)
    assert found.short.to("pound").magnitude == pytest.approx(17.424)
    half = suspect_area(q("24 acre"), 12, 1, q("30 in"), q("8.712 lb/acre"), delivered=q("50 %"))
    assert half.short.to("pound").magnitude == pytest.approx(8.712)
    assert suspect_area(q("24 acre"), 12, 1, q("30 in"), q("5 lb/acre"), delivered=q("100 %")).short.magnitude == 0


@pytest.mark.parametrize(("stopped", "delivered"), [(13, "0 %"), (0, "0 %"), (1, "101 %"), (1, "-1 %")])
def test_no_more_rows_stop_than_there_are(stopped: int, delivered: str) -> None:
    with pytest.raises(OutOfDomain):
        suspect_area(q("24 acre"), 12, stopped, q("30 in"), q("5 lb/acre"), delivered=q(delivered))


def test_every_row_may_have_stopped() -> None:
    everything = suspect_area(q("24 acre"), 12, 12, q("30 in"), q("5 lb/acre"))
    assert everything.area.to("acre").magnitude == pytest.approx(24)
    assert suspect_area(q("1 acre"), 1, 1, q("30 in"), q("5 lb/acre")).area.to("acre").magnitude == pytest.approx(1)


def test_what_a_machine_can_plant_in_a_time() -> None:
    """6 mph x 18 ft is 108 / 8.25 = 13.09 acres an hour: 15.27 in 70 minutes, and 15.65 with a minute and 1 % more."""
    most = reachable_area(q("18 ft"), q("6 mph"), q("70 min")).to("acre").magnitude
    assert most == pytest.approx(1.01 * 71 / 60 * 108 / 8.25)
    assert 15.3 < most < 18
    with pytest.raises(OutOfDomain):
        reachable_area(q("18 ft"), q("6 mph"), q("0 min"))


@given(st.floats(10, 120), st.floats(2, 10), st.floats(0.2, 1), st.floats(1, 1000))
def test_what_was_planted_at_any_efficiency_is_within_reach(feet: float, mph: float, share: float, time: float) -> None:
    machine, length = (quantity(feet, "ft"), quantity(mph, "mph")), quantity(time, "min")
    planted = planted_area(*machine, quantity(share, "1"), length)
    assert planted < reachable_area(*machine, length)


def test_what_was_put_on_top_was_used_as_well() -> None:
    """Four hoppers of 40 lb, 50 lb on top of each, 79 lb left in each after 8 acres: 44 lb over 8 acres."""
    planter = range(1, 5)
    loaded, left, added = ({row: q(mass) for row in planter} for mass in ("40 lb", "79 lb", "50 lb"))
    found = row_drawdown(loaded, left, q("8 acre"), 4, added)
    assert [one.to("pound / acre").magnitude for one in found.values()] == pytest.approx([5.5] * 4)
    some = row_drawdown(loaded, {**left, 2: q("29 lb")}, q("8 acre"), 4, {row: added[row] for row in (1, 3, 4)})
    assert some[2].to("pound / acre").magnitude == pytest.approx(5.5)
    for wrong in ({5: q("1 lb")}, {1: q("-1 lb")}, {1: q("1 lb")}):
        with pytest.raises(OutOfDomain):
            row_drawdown(loaded, left, q("8 acre"), 4, wrong)


def test_each_row_by_its_own_hopper() -> None:
    found = row_drawdown(rows("30 lb", "30 lb"), rows("1 lb", "5 lb"), q("40 acre"), 12)
    assert [one.to("pound / acre").magnitude for one in found.values()] == pytest.approx([8.7, 7.5])


@pytest.mark.parametrize(
    ("loaded", "left", "says"),
    [
        ({1: "30 lb"}, {2: "1 lb"}, "both"),
        ({1: "30 lb", 2: "30 lb"}, {2: "1 lb"}, "both"),
        ({13: "30 lb"}, {13: "1 lb"}, "rows 1 to 12"),
        ({0: "30 lb"}, {0: "1 lb"}, "rows 1 to 12"),
        ({1: "30 lb"}, {1: "31 lb"}, "more than"),
    ],
)
def test_a_row_by_itself_needs_both_readings(loaded: dict[int, str], left: dict[int, str], says: str) -> None:
    first, last = ({row: q(one) for row, one in readings.items()} for readings in (loaded, left))
    with pytest.raises(OutOfDomain, match=says):
        row_drawdown(first, last, q("40 acre"), 12)


def test_the_first_and_the_last_row_count() -> None:
    found = row_drawdown({1: q("1 lb"), 12: q("2 lb")}, {1: q("0 lb"), 12: q("0 lb")}, q("12 acre"), 12)
    assert {row: round(one.to("pound / acre").magnitude, 9) for row, one in found.items()} == {1: 1, 12: 2}


@pytest.mark.parametrize(
    ("applied", "outcome"),
    [
        *(("10 lb/acre", "on_target"), ("10.5 lb/acre", "on_target"), ("10.51 lb/acre", "too_much")),
        *(("9.5 lb/acre", "on_target"), ("9.49 lb/acre", "too_little")),
    ],
)
def test_a_rate_within_five_percent_is_on_target(applied: str, outcome: str) -> None:
    found = rate_check(q(applied), q("10 lb/acre"), q("30 in"))
    assert found.outcome == outcome
    assert found.off.magnitude == pytest.approx(q(applied).magnitude / 10 - 1)
    assert found.factor.magnitude == pytest.approx(10 / q(applied).magnitude)


@pytest.mark.parametrize(
    ("earlier", "outcome", "allowed"),
    [
        ("0 lb/acre", "within", 15),
        ("5 lb/acre", "within", 10),
        ("5.01 lb/acre", "above", 9.99),
        ("20 lb/acre", "above", 0),
    ],
)
def test_the_season_total(earlier: str, outcome: str, allowed: float) -> None:
    found = season_check(q(earlier), q("10 lb/acre"), q("15 lb/acre"), q("30 in"))
    assert found.outcome == outcome
    assert found.total.to("pound / acre").magnitude == pytest.approx(q(earlier).magnitude + 10)
    assert found.allowed.to("pound / acre").magnitude == pytest.approx(allowed)


@pytest.mark.parametrize(
    ("caught", "outcome", "outside"),
    [
        (("95 g", "105 g", "100 g"), "uniform", set()),
        (("94.9 g", "105 g", "100.1 g"), "uneven", {1}),
        (("90 g", "110 g", "100 g"), "uneven", {1, 2}),
        (("89.9 g", "110 g", "100.1 g"), "repair", {1, 2}),
    ],
)
def test_uniformity(caught: tuple[str, ...], outcome: str, outside: set[int]) -> None:
    found = uniformity(rows(*caught))
    assert (found.outcome, set(found.outside), found.worst) == (outcome, outside, 1)
    grams = np.array([q(one).magnitude for one in caught])
    assert found.cv.magnitude == pytest.approx(grams.std(ddof=1) / grams.mean())
    assert all(one.magnitude == pytest.approx(grams[row - 1] / grams.mean() - 1) for row, one in found.outside.items())


@given(st.floats(0.1, 50), st.floats(0.01, 1))
def test_product_and_active_ingredient_are_inverse(rate: float, fraction: float) -> None:
    for unit in ("lb/acre", "oz/1000 ft"):
        product = quantity(rate, unit)
        active = active_ingredient(product, quantity(fraction, "1"))
        back = product_rate(active, quantity(fraction, "1"))
        assert back.to(product.units).magnitude == pytest.approx(rate)
        assert active.to(product.units).magnitude == pytest.approx(rate * fraction)
