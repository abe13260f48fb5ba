"""The planter at work in the night: what it has covered, what its hoppers lost, and the row that stops unseen.

As in ``demo.planter``, operator and assistant know nothing of it but what can be seen: whether granules drop at an
outlet, and what stands in a hopper.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from engine.calculations.rate import area_rate
from engine.quantities import Measure, quantity
from engine.reminders.rules import PlantingPace
from engine.shift import WatchSettings
from engine.simulation.night import Night, NightModel, RowTrouble
from engine.simulation.planter import SimulatedPlanter
from engine.values import Setting

STOPS, STOPPED_ROW = 5700, 5
"""When in the evening, in seconds, a row stops, and which."""
FILLED = 40
"""Pounds in each hopper at the start."""
HOURS = 6.0
_HOUR = 3600


@dataclass(frozen=True)
class PlanterWork:
    """What the planter is set to: rate, speed and the width that one row serves."""

    rate: Measure
    speed: Measure
    spacing: Measure


@dataclass(frozen=True)
class DemoNight:
    """A night that ``began`` so many seconds after the evening."""

    began: int
    night: Night

    @classmethod
    def of(cls, planter: SimulatedPlanter, settings: Mapping[int, Setting], work: PlanterWork, began: int) -> DemoNight:
        width = work.spacing.quantity * len(settings)
        pace = PlantingPace(work.speed.quantity, width, quantity(WatchSettings().efficiency, "1"))
        hour = float(pace.area(timedelta(hours=1)).to("acre").magnitude)
        rate = float(area_rate(work.rate.quantity, work.spacing.quantity).to("lb/acre").magnitude)
        return cls(
            began,
            Night(
                shift=NightModel(rows=len(settings), hours=HOURS),
                mph=work.speed.to("mph").value,
                rate=rate,
                hopper=FILLED,
                factors=np.array([1 + planter.error(row, one) for row, one in sorted(settings.items())]),
                clock=np.array([0.0, HOURS]),
                planted=np.array([0.0, HOURS * hour]),
                trouble=RowTrouble(STOPPED_ROW, (STOPS - began) / _HOUR),
            ),
        )

    def acres(self, at: int) -> float:
        """What the whole planter has covered."""
        return self.night.acres((at - self.began) / _HOUR)

    def moment(self, acres: float) -> int:
        """When so much is covered."""
        return self.began + round(self.night.hour(acres) * _HOUR)

    def dropping(self, row: int, at: int) -> bool:
        """Whether granules drop at the outlet of a row that nobody has seen to yet."""
        return row != self.night.trouble.row or at < STOPS

    def left(self, at: int, mended: int) -> dict[int, float]:
        """Pounds in each hopper, where the stopped row feeds again since ``mended``."""
        until, now = self.acres(mended), self.acres(at)
        used = self.night.used(0.0, until, mended=False) + self.night.used(until, now, mended=True)
        return {row: FILLED - float(pounds) for row, pounds in enumerate(used, 1)}
