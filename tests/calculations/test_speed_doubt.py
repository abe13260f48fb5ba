"""Whether a run off the planned speed leaves something open."""

from __future__ import annotations

import pytest

from engine.calculations.meter import speed_doubt
from tests.helpers.quantities import q


@pytest.mark.parametrize(
    ("driven", "meter", "outcome"),
    [
        ("5.2 mph", None, "settled"),
        ("5.25 mph", None, "settled"),
        ("5.4 mph", None, "open"),
        ("4.6 mph", None, "open"),
        ("4.6 mph", "gravity", "settled"),
        ("4.6 mph", "positive", "settled"),
    ],
)
def test_only_an_unknown_meter_off_its_speed_leaves_something_open(driven: str, meter: str, outcome: str) -> None:
    """SPEED-LAW: a meter that is known is made up for; 0.25 of 5 mph is 5 %."""
    assert speed_doubt(q(driven), q("5 mph"), meter).outcome == outcome  # type: ignore[arg-type]
