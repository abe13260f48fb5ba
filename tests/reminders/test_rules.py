from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from engine.errors import OutOfDomain
from engine.quantities import measure, quantity
from engine.reminders.rules import (
    AcreReport,
    PlantingPace,
    first_run_out,
    learned_efficiency,
    run_out,
)

# Iowa State PM 696 / A3-24: 40 ft at 6 mph and 70 % plants 20.4 acres an hour (exactly 20.36).
PACE = PlantingPace(quantity(6, "mph"), quantity(40, "ft"), quantity(70, "%"))
FRESH = timedelta(0)


def minutes(length: timedelta) -> float:
    return length.total_seconds() / 60


def test_the_pace_of_the_published_example() -> None:
    assert measure(PACE.area(timedelta(hours=1)), "acre").value == pytest.approx(20.4, abs=0.05)


def test_the_hopper_that_is_empty_first() -> None:
    """12 rows at 30 in and 8.712 lb/acre: 29.04 lb per hopper last 40 acres of the machine (exact, from the unit
    definitions): at 5 mph and 65 % that is 40 / 11.8182 hours."""
    pace = PlantingPace(quantity(5, "mph"), quantity(360, "in"), quantity(65, "%"))
    left = {row: quantity(29.04, "lb") for row in range(1, 13)}
    rate, spacing = quantity(8.712, "lb/acre"), quantity(30, "in")
    times = run_out(left, rate, spacing, pace.speed, pace.efficiency)
    assert measure(times[7], "h").value == pytest.approx(40 / (30 * 5 * 0.65 / 8.25), rel=1e-9)
    found = first_run_out({**left, 5: quantity(10, "lb")}, rate, pace, spacing)
    assert found is not None
    assert (found[0], minutes(found[1])) == (5, pytest.approx(measure(times[5], "min").value * 10 / 29.04))
    assert first_run_out({}, rate, pace, spacing) is None


def test_efficiency_is_learned_from_what_was_planted() -> None:
    believed = quantity(65, "%")
    speed, width = quantity(6, "mph"), quantity(40, "ft")
    full = 40 * 6 / 8.25

    def learned(*reports: AcreReport) -> float:
        return measure(learned_efficiency(believed, reports, speed, width), "%").value

    same = AcreReport(quantity(full * 0.65 * 2, "acre"), timedelta(hours=2))
    slow = AcreReport(quantity(full * 0.45 * 3, "acre"), timedelta(hours=3))
    assert learned() == pytest.approx(65)
    assert learned(same) == pytest.approx(65)
    assert learned(slow) == pytest.approx(55)
    assert 45 < learned(slow, slow, slow) < learned(slow, slow) < 55
    assert learned(AcreReport(quantity(900, "acre"), timedelta(hours=1))) == 100


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: replace(PACE, speed=quantity(0, "mph")).area(timedelta(hours=1)),
        lambda: replace(PACE, efficiency=quantity(120, "%")).area(timedelta(hours=1)),
        lambda: run_out(
            {1: quantity(-1, "lb")}, quantity(5, "lb/acre"), quantity(30, "in"), PACE.speed, PACE.efficiency
        ),
        lambda: learned_efficiency(quantity(65, "%"), (), quantity(6, "mph"), quantity(40, "ft"), FRESH),
    ],
)
def test_what_has_no_meaning(wrong: object) -> None:
    with pytest.raises(OutOfDomain):
        wrong()  # type: ignore[operator]
