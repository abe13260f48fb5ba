"""The evening: all that the operator says, from the first question of the set-up to the end of his shift."""

from __future__ import annotations

from demo.author import Author
from demo.calibration_script import CalibrationScript
from demo.night_script import NightScript
from demo.script_lines import DemoLine


def evening() -> tuple[DemoLine, ...]:
    """Play the operator's part against the assistant and the simulated planter."""
    author = Author()
    calibration = CalibrationScript(author)
    calibrated = tuple(calibration.lines())
    return (*calibrated, *NightScript(author, calibration.field).lines())
