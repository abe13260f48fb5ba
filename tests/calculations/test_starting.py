"""Where the dials are set before the first catch."""

from __future__ import annotations

from typing import Any

import pytest

from engine.calculations.advisor.starting import EarlierDrive, EarlierRates, RateChart, start_by_chart, start_by_record
from engine.calculations.meter import Meter
from engine.errors import OutOfDomain
from engine.values import Dial
from tests.helpers.quantities import q

DIAL = Dial.numbered(0, 40, 0.5)
SPACING = q("30 in")


def rates(*per_row: float) -> dict[int, Any]:
    return {row: q(f"{one} g/100 m") for row, one in enumerate(per_row, start=1)}


def at(*positions: float) -> dict[int, Any]:
    return {row: DIAL.setting(one) for row, one in enumerate(positions, start=1)}


def test_the_record_gives_the_setting_that_gave_the_rate() -> None:
    """Output 5 g/100 m a unit of the dial in row 1, 10 % more in row 2: 60 g/100 m at 12 and at 10.9."""
    caught = [rates(5 * p, 5.5 * p, 5 * p) for p in (10, 11, 13, 14)] * 2
    found = start_by_record(
        4, q("60 g/100 m"), SPACING, DIAL, EarlierRates(caught, [at(p, p, p) for p in (10, 11, 13, 14)] * 2)
    )
    assert found.outcome == "from_record"
    assert {row: one.position for row, one in found.settings.items()} == {
        1: 12,
        2: 11,
        3: 12,
        4: pytest.approx(12, abs=0.5),
    }


def test_without_a_record_there_is_no_start() -> None:
    found = start_by_record(4, q("5 lb/acre"), SPACING, DIAL)
    assert (found.outcome, found.settings) == ("no_record", {})


def test_the_record_of_another_speed_counts_by_the_meter() -> None:
    """SPEED-LAW: what a gravity meter gave at 6 mph is 5 / 6 of what it gives at 5 mph."""
    runs = [rates(*[5.0 * p / 1.2] * 6) for p in (10, 11, 12, 13, 14)]
    speeds = [dict.fromkeys(range(1, 7), q("6 mph"))] * 5
    settings = [at(*[p] * 6) for p in (10, 11, 12, 13, 14)]
    meters: tuple[Meter, ...] = ("gravity", "positive")
    gravity, roll = (
        start_by_record(
            6, q("60 g/100 m"), SPACING, DIAL, EarlierRates(runs, settings), EarlierDrive(speeds, q("5 mph"), meter)
        )
        for meter in meters
    )
    assert gravity.settings[1].position == pytest.approx(12, abs=0.5)
    assert roll.settings[1].position == pytest.approx(14.4, abs=0.5)


def chart(rate: str, spacing: str = "30 in", chart_speed: Any = None, **more: Any) -> Any:
    """4, 6 and 9 lb/acre at 10, 15 and 20 in rows of 30 in at 5 mph."""
    lines = {1: q("4 lb/acre"), 2: q("6 lb/acre"), 3: q("9 lb/acre")}
    made_for = RateChart(at(10, 15, 20), lines, q("30 in"), chart_speed)
    return start_by_chart(q(rate), q(spacing), DIAL, made_for, **more)


@pytest.mark.parametrize(
    ("rate", "spacing", "position"),
    [
        ("4 lb/acre", "30 in", 10),
        ("6 lb/acre", "30 in", 15),
        ("4.899 lb/acre", "30 in", 12.5),
        ("4.5 lb/acre", "40 in", 15),
    ],
)
def test_the_chart_is_read_between_its_lines_and_for_other_spacings(rate: str, spacing: str, position: float) -> None:
    found = chart(rate, spacing)
    assert (found.outcome, found.setting.position) == ("from_chart", position)


def test_past_the_ends_of_the_chart_its_end_is_told_as_such() -> None:
    assert (chart("3 lb/acre").outcome, chart("3 lb/acre").setting.position) == ("below_chart", 10)
    assert (chart("10 lb/acre").outcome, chart("10 lb/acre").setting.position) == ("above_chart", 20)


@pytest.mark.parametrize(
    ("meter", "rate"), [("gravity", "5 lb/acre"), ("positive", "6 lb/acre"), (None, "5.4772 lb/acre")]
)
def test_another_speed_than_that_of_the_chart_counts_by_the_meter(meter: Any, rate: str) -> None:
    """At 6 mph a gravity meter gives 5 / 6 of the chart's rate for 5 mph; one that is not told, the root of it."""
    assert chart(rate, speed=q("6 mph"), chart_speed=q("5 mph"), meter=meter).setting.position == 15


def test_a_chart_that_cannot_be_read_is_refused() -> None:
    for settings, lines in (
        ({}, {}),
        (at(10), {2: q("4 lb/acre")}),
        (at(10, 12), rates(50, 40)),
        (at(10, 10), rates(4, 5)),
    ):
        with pytest.raises(OutOfDomain):
            start_by_chart(q("5 lb/acre"), SPACING, DIAL, RateChart(settings, lines, SPACING))
