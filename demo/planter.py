"""The planter of the demo: eight rows that differ, one curve over their dials, catches that scatter.

One seed is one planter and one evening; the operator and the assistant know nothing of it but what is weighed.
"""

from __future__ import annotations

import numpy as np
from numpy.random import Generator

from engine.simulation.planter import Curve, Row, SimulatedPlanter
from engine.values import Dial, Setting

SEED = 4
ROWS = 8
DIAL = Dial.numbered(0, 30, 1)
START = 17
TRUE_NOTCH = 17.3
SPREAD = 0.09
CURVE = Curve(reach=18, power=1.1)
NOISE = 0.015


def planter(generator: Generator) -> SimulatedPlanter:
    """Draw the rows: the same for the same generator."""
    rows = {row: Row(generator.normal(0, SPREAD), generator.normal(0, 0.1)) for row in range(1, ROWS + 1)}
    return SimulatedPlanter(DIAL, TRUE_NOTCH, CURVE, rows, DIAL.setting(START), NOISE)


class DemoField:
    """Drives the course and weighs: each call is one test run."""

    def __init__(self, seed: int = SEED) -> None:
        self._generator = np.random.default_rng(seed)
        self.planter = planter(self._generator)

    def catches(self, settings: dict[int, Setting], target_g: float) -> dict[int, int]:
        """Grams that the scale shows for each row at these settings, where ``target_g`` is wanted."""
        return {row: self._weighed(row, setting, target_g) for row, setting in settings.items()}

    def seconds(self, planned_s: float) -> int:
        """What the stopwatch shows: within a second of the plan."""
        return round(planned_s + self._generator.uniform(-0.8, 0.8))

    def _weighed(self, row: int, setting: Setting, target_g: float) -> int:
        true = target_g * (1 + self.planter.error(row, setting))
        shake = 1 + self.planter.noise * self._generator.standard_normal()
        return round(true * shake)
