"""What all rows do together from run to run."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.calculations.runs.trend import common_trend
from engine.values import Dial
from tests.helpers.quantities import q

DIAL = Dial.numbered(0, 30, 1)
FIVE = q("5 %")


def run(*grams: float) -> dict[int, Any]:
    return {row: q(f"{one} g") for row, one in enumerate(grams, start=1)}


def at(*places: float) -> dict[int, Any]:
    return {row: DIAL.setting(one) for row, one in enumerate(places, start=1)}


STILL = [at(15, 15, 15, 15)] * 3


def test_a_fall_of_four_percent_of_every_row_is_told() -> None:
    """Medians by hand: ln(96 / 100) each run; two runs make 96 x 96 / 100 = 92.16, 7.84 % less."""
    found = common_trend([run(100, 102, 98, 100), run(96, 97.92, 94.08, 96), run(92.16, 94, 90.32, 92.16)], STILL, FIVE)
    assert (found.outcome, found.since) == ("falling", 1)
    assert found.change.to("percent").magnitude == pytest.approx(-7.84, abs=0.05)


def test_rows_that_were_moved_say_nothing_and_a_break_begins_anew() -> None:
    """Rows 1 to 3 are moved after the first run, so only the second step counts."""
    settings = [at(15, 15, 15, 15), at(14, 14, 14, 15), at(14, 14, 14, 15)]
    found = common_trend([run(100, 100, 100, 100), run(90, 90, 90, 100), run(95, 95, 95, 106)], settings, FIVE)
    assert (found.outcome, found.since) == ("rising", 2)
    assert found.change.to("percent").magnitude == pytest.approx(100 * (95 / 90 - 1), abs=0.3)


def test_two_rows_or_one_run_show_nothing() -> None:
    assert common_trend([run(100, 100), run(90, 90)], STILL, FIVE).outcome == "none"
    assert common_trend([run(100, 100, 100)], STILL, FIVE).outcome == "none"


def test_a_gravity_meter_driven_faster_has_not_changed() -> None:
    """SPEED-LAW: at 5.5 mph it gives 5 / 5.5 of what it gives at 5 mph; a roll would have fallen by 9 %."""
    speeds = [dict.fromkeys(range(1, 5), q(one)) for one in ("5 mph", "5.5 mph")]
    runs = [run(100, 100, 100, 100), run(*[100 / 1.1] * 4)]
    assert common_trend(runs, STILL, FIVE, speeds, "gravity").outcome == "none"
    assert common_trend(runs, STILL, FIVE, speeds, "positive").outcome == "falling"
    assert common_trend(runs, STILL, FIVE, speeds).outcome == "none"


@given(st.lists(st.floats(-0.015, 0.015), min_size=8, max_size=8), st.floats(40, 200))
def test_rows_that_scatter_around_the_same_output_have_no_trend(noise: list[float], grams: float) -> None:
    first, second = noise[:4], [*noise[4:6], *(-one for one in noise[4:6])]
    runs = [run(*(grams * math.exp(one) for one in first)), run(*(grams * math.exp(one) for one in second))]
    assert common_trend(runs, STILL, FIVE).outcome == "none"
