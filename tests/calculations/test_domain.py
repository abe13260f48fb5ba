"""The edges of every formula: what it refuses, and what lies exactly on a limit."""

from __future__ import annotations

import math

import pytest

import engine.calculations.formulas  # noqa: F401
from engine.calculations.catalogue import Dimension, ValueShape, formulas
from engine.calculations.catch import net_catch, net_catches, poured_catch
from engine.calculations.course import course_speed
from engine.calculations.coverage import pass_area, work_rate
from engine.calculations.domain import CLOSE, at_most, share, side, tolerance_of, whole
from engine.calculations.hoppers.drawdown import drawdown
from engine.calculations.hoppers.label import label_check, label_range
from engine.calculations.rate import applied_rate, area_rate, row_rate
from engine.calculations.runs.uniformity import spread
from engine.errors import InputError, OutOfDomain
from engine.quantities import quantity, read_measure
from tests.helpers.quantities import q, rows

USUAL = {
    Dimension.MASS: "10 g",
    Dimension.VOLUME: "10 mL",
    Dimension.LENGTH: "10 m",
    Dimension.AREA: "10 ha",
    Dimension.TIME: "10 s",
    Dimension.SPEED: "10 km/h",
    Dimension.DENSITY: "0.7 g/mL",
    Dimension.AREA_RATE: "10 kg/ha",
    Dimension.ROW_RATE: "10 g/100 m",
    Dimension.WORK_RATE: "10 ha/h",
    Dimension.RATIO: "10 %",
}
ZERO_IS_A_VALUE = {
    *(("net-catch", "gross"), ("net-catch", "tare"), ("catch-check", "gross"), ("catch-check", "tare")),
    *(("poured-catch", "volume"), ("drawdown", "left"), ("drawdown", "refilled"), ("expected-use", "planted")),
    *(("applied-rate", "caught"), ("row-rate", "caught"), ("stationary-rate", "caught")),
    *(("season-check", "earlier"), ("suspect-area", "delivered"), ("speed-change", "exponent")),
    *(("scale-check", "shown"), ("measured-density", "empty"), ("tube-weighed", "empty")),
    *(("put-away-check", name) for name in ("booked", "doubt", "put_back")),
}
LIGHTER = {("measured-density", "empty"): "4 g", ("tube-weighed", "empty"): "4 g"}
"""What is usually less than other arguments of the same kind."""
ANY_SIGN = {("speed-change", "exponent")}
PLAIN = {
    name: one
    for name, one in formulas().items()
    if all(kind.kind in {"measure", "count"} and kind.shape is ValueShape.ONE for kind in one.inputs.values())
}
DOORS = [(name, argument) for name, one in PLAIN.items() for argument, kind in one.inputs.items()]


def usual(name: str) -> dict[str, object]:
    inputs = PLAIN[name].inputs.items()
    found = {a: q(USUAL[min(kind.dimensions)]) if kind.kind == "measure" else 2 for a, kind in inputs}
    return {**found, **{a: q(one) for (of, a), one in LIGHTER.items() if of == name}}


def given(name: str, argument: str, magnitude: float) -> dict[str, object]:
    arguments = usual(name)
    old = arguments[argument]
    return {**arguments, argument: int(magnitude) if isinstance(old, int) else type(old)(magnitude, old.units)}  # type: ignore[attr-defined]


def test_there_are_formulas_to_look_at() -> None:
    assert len(PLAIN) >= 15


@pytest.mark.parametrize("name", PLAIN)
def test_usual_values_are_taken(name: str) -> None:
    PLAIN[name].function(**usual(name))


@pytest.mark.parametrize(("name", "argument"), [door for door in DOORS if door not in ANY_SIGN])
def test_below_zero_is_refused_and_named(name: str, argument: str) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        PLAIN[name].function(**given(name, argument, -1))
    assert refusal.value.argument == argument
    assert "-1" in str(refusal.value)


@pytest.mark.parametrize(("name", "argument"), DOORS)
def test_zero_is_refused_unless_it_means_something(name: str, argument: str) -> None:
    arguments = given(name, argument, 0)
    if (name, argument) in ZERO_IS_A_VALUE:
        PLAIN[name].function(**arguments)
    else:
        with pytest.raises(OutOfDomain):
            PLAIN[name].function(**arguments)


@pytest.mark.parametrize("magnitude", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize(
    ("name", "argument"), [door for door in DOORS if PLAIN[door[0]].inputs[door[1]].kind != "count"]
)
def test_what_is_no_number_is_refused(name: str, argument: str, magnitude: float) -> None:
    with pytest.raises(OutOfDomain):
        PLAIN[name].function(**given(name, argument, magnitude))


def test_one_is_enough_where_things_are_counted() -> None:
    assert pass_area(1, q("1 m"), q("1 m")).to("meter ** 2").magnitude == pytest.approx(1)


@pytest.mark.parametrize(("ratio", "allowed"), [("100 %", True), ("100.01 %", False), ("0.01 %", True)])
def test_a_share_is_at_most_the_whole(ratio: str, allowed: bool) -> None:
    if allowed:
        assert share("efficiency", q(ratio)) == q(ratio)
        assert work_rate(q("1 m"), q("1 m/s"), q(ratio)).magnitude > 0
    else:
        with pytest.raises(OutOfDomain, match="100 %"):
            share("efficiency", q(ratio))


@pytest.mark.parametrize("ratio", ["0 %", "100 %", "101 %"])
def test_a_tolerance_of_nothing_or_everything_is_refused(ratio: str) -> None:
    with pytest.raises(OutOfDomain):
        tolerance_of(q(ratio))


def test_what_lies_on_a_limit_is_within_it() -> None:
    assert at_most(1 + CLOSE, 1)
    assert at_most(0, 0)
    assert not at_most(1.0001, 1)
    assert [side(off, 0.05) for off in (0.05, -0.05, 0.051, -0.051)] == [0, 0, 1, -1]


def test_whole_numbers_are_rounded_up_from_one() -> None:
    assert [whole(one) for one in (0.0, 0.2, 1.0, 1 + 1e-12, 1.0001, 20.0)] == [1, 1, 1, 1, 2, 20]


def test_a_tolerance_is_a_plain_number() -> None:
    assert tolerance_of(q("5 %")) == pytest.approx(0.05)
    assert tolerance_of(q("99 %")) == pytest.approx(0.99)


@pytest.mark.parametrize(
    ("seconds", "outcome"),
    [
        (10.0, "as_planned"),
        (10 / 1.05, "as_planned"),
        (10 / 1.0501, "too_fast"),
        (10 / 0.95, "as_planned"),
        (10 / 0.9499, "too_slow"),
    ],
)
def test_the_speed_tolerance_itself_is_as_planned(seconds: float, outcome: str) -> None:
    found = course_speed(q("100 m"), quantity(seconds, "s"), q("10 m/s"))
    assert found.outcome == outcome
    assert found.off.magnitude == pytest.approx(10 / seconds - 1)
    assert found.speed.to("meter / second").magnitude == pytest.approx(100 / seconds)


def test_a_wider_speed_tolerance_may_be_given() -> None:
    assert course_speed(q("300 ft"), q("38 s"), q("5 mph"), q("10 %")).outcome == "as_planned"
    assert course_speed(q("300 ft"), q("38 s"), q("5 mph")).outcome == "too_fast"


@pytest.mark.parametrize(
    ("rate", "outcome"),
    [("4.99 lb/acre", "below"), ("5 lb/acre", "within"), ("8 lb/acre", "within"), ("8.01 lb/acre", "above")],
)
def test_a_label_allows_both_its_ends(rate: str, outcome: str) -> None:
    found = label_check(q(rate), q("5 lb/acre"), q("8 lb/acre"), q("30 in"))
    assert found.outcome == outcome
    assert found.rate.to("pound / acre").magnitude == pytest.approx(q(rate).magnitude)


def test_a_label_in_other_units_allows_its_ends_too() -> None:
    along = q("8 oz/1000 ft")
    same = area_rate(along, q("30 in"))
    for rate in (along, same, same.to("pound / acre"), same.to("gram / hectare")):
        assert label_check(rate, along, same, q("30 in")).outcome == "within"
    assert label_check(q("8 oz/1000 ft"), q("7 lb/acre"), q("8 lb/acre"), q("30 in")).outcome == "above"
    assert label_check(q("8 oz/1000 ft"), q("7 lb/acre"), q("8 lb/acre"), q("38 in")).outcome == "below"


def test_a_label_entered_upside_down_is_named() -> None:
    assert label_range(q("8 lb/acre"), q("5 lb/acre"), q("30 in")) == "upside_down"
    assert label_range(q("5 lb/acre"), q("5 lb/acre"), q("30 in")) == "fine"
    assert label_range(q("5 lb/acre"), q("8 oz/1000 ft"), q("30 in")) == "fine"
    with pytest.raises(OutOfDomain, match="above the highest label rate"):
        label_check(q("6 lb/acre"), q("8 lb/acre"), q("5 lb/acre"), q("30 in"))


@pytest.mark.parametrize(
    ("gross", "outcome", "net"), [("50 g", "fine", 38), ("12 g", "fine", 0), ("11 g", "lighter_than_container", -1)]
)
def test_a_container_alone_is_an_empty_catch_and_less_is_a_mistake(gross: str, outcome: str, net: float) -> None:
    found = net_catch(q(gross), q("12 g"))
    assert (found.outcome, found.net.to("gram").magnitude) == (outcome, pytest.approx(net))


def test_rows_lose_their_container_and_the_light_row_is_named() -> None:
    net = net_catches(rows("50 g", "2 oz"), q("12 g"))
    assert net[1].to("gram").magnitude == pytest.approx(38)
    assert net[2].to("ounce").magnitude == pytest.approx(2 - 12 / 28.349523125)
    with pytest.raises(OutOfDomain, match="row 2"):
        net_catches(rows("50 g", "10 g"), q("12 g"))


def test_a_stopped_row_applied_nothing() -> None:
    assert applied_rate(q("0 g"), q("30 in"), q("300 ft")).magnitude == 0
    assert row_rate(q("0 g"), q("300 ft")).magnitude == 0
    assert poured_catch(q("0 mL"), q("0.7 g/mL")).magnitude == 0


def test_no_more_can_be_left_than_was_loaded() -> None:
    assert drawdown(q("30 lb"), q("30 lb"), q("1 acre")).magnitude == 0
    with pytest.raises(OutOfDomain, match="more than the 30 lb"):
        drawdown(q("30 lb"), q("30.1 lb"), q("1 acre"))


@pytest.mark.parametrize("caught", [[], ["8 oz"], ["0 g", "0 g"], ["8 g", "-1 g"]])
def test_a_spread_needs_two_rows_with_something_in_them(caught: list[str]) -> None:
    with pytest.raises(OutOfDomain):
        spread(rows(*caught))


def test_a_formula_called_without_what_it_needs_says_what() -> None:
    with pytest.raises(InputError, match="target-catch needs spacing, course"):
        formulas()["target-catch"].evaluate({"rate": read_measure("5 lb/acre"), "course": None})
