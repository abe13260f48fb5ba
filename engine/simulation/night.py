"""What happens in a simulated night whoever keeps watch: the ground covered, what each row feeds, what goes wrong."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from engine.calculations.hoppers.use import READING
from engine.reminders.price import REFILL_SHARE
from engine.shift.look import WatchSettings

SPACING_IN = 30.0
START = datetime(2026, 4, 21, 19, tzinfo=UTC)
STEP = 1 / 6
"""Hours over which the working pace stays the same."""
ROW_SPREAD = 0.02
"""Standard deviation of rows that were brought in, inside the tolerance of 5 %."""
COMMON_SPREAD = 0.03
"""Standard deviation of the true rate about the calibrated one."""


@dataclass(frozen=True)
class RowTrouble:
    """Row ``row`` delivers ``feeds`` of what it should from ``hour`` of the shift on: 0 is a row that stopped."""

    row: int
    hour: float
    feeds: float = 0.0


@dataclass(frozen=True)
class NightModel:
    """What a night is drawn for. Shares as numbers; all eyes, readings and delays are common practice, no source.

    ``answer`` minutes within which a look is answered, any delay alike; a share ``late`` of them takes up to four times
    as long. ``eye``: a hopper is seen to be high from this share of a full one on; ``eye_error``, ``reading``: standard
    deviation of what the eye sees and of what is told to be used, as a share of a full hopper; ``acres_error``: of the
    acres told. ``trouble`` None is drawn: a row stops, or it lacks the share ``under_feed``. ``accepted`` acres of the
    machine may be lost; None: the looks are left to the default plan. ``outlets``: at each look somebody sees whether
    granules drop at every outlet. ``watch``: how the assistant is set to watch.
    """

    rows: int = 8
    hours: float = 12.0
    accepted: float | None = None
    answer: float = 5.0
    late: float = 0.05
    eye: float = 0.07
    eye_error: float = 0.01
    reading: float = READING
    acres_error: float = 0.02
    start: datetime = START
    trouble: RowTrouble | None = None
    under_feed: float | None = None
    outlets: bool = False
    watch: WatchSettings = field(default_factory=WatchSettings)


@dataclass(frozen=True)
class Night:
    """``hopper`` [lb] full and ``rate`` [lb/acre] as calibrated; ``factors``: true feed of each row over it.

    ``clock`` [h] and ``planted`` [acre of the machine] run together; ``mph`` is the speed the operator told.
    """

    shift: NightModel
    mph: float
    rate: float
    hopper: float
    factors: NDArray[np.float64]
    clock: NDArray[np.float64]
    planted: NDArray[np.float64]
    trouble: RowTrouble
    seed: tuple[int, int] = field(default=(0, 0))

    @property
    def width_ft(self) -> float:
        return self.shift.rows * SPACING_IN / 12

    @property
    def unseen(self) -> float:
        """Acres before a stopped row of average feed shows."""
        return self.shift.eye * self.hopper * self.shift.rows / self.rate

    def acres(self, hour: float) -> float:
        return float(np.interp(hour, self.clock, self.planted))

    def hour(self, acres: float) -> float:
        """When this much is planted; infinite where the night is too short."""
        return float(np.interp(acres, self.planted, self.clock)) if acres < self.planted[-1] else float("inf")

    def used(self, begin: float, end: float, *, mended: bool) -> NDArray[np.float64]:
        """What each hopper lost between two planted areas [lb]."""
        each = self.rate / self.shift.rows * self.factors
        out: NDArray[np.float64] = each * (end - begin)
        if not mended:
            since = max(end - max(begin, self.acres(self.trouble.hour)), 0.0)
            out[self.trouble.row - 1] -= each[self.trouble.row - 1] * (1 - self.trouble.feeds) * since
        return out

    def refill(self, begin: float) -> float:
        """The area planted when the first hopper, full at ``begin``, is down to the reserve."""
        return begin + REFILL_SHARE * self.hopper * self.shift.rows / (self.rate * float(self.factors.max()))

    def time(self, hour: float) -> datetime:
        return self.shift.start + timedelta(hours=hour)


def draw_night(shift: NightModel, seed: int, index: int) -> Night:
    """Night ``index`` of a seed: the same whatever the number of nights.

    Speed 4 to 6 mph, rate 7 to 10 lb/acre, hoppers of 25 to 35 lb; field efficiency about 65 % (ASAE-D497) and other in
    every ten minutes; one to three breaks of 10 to 40 minutes that nobody tells. One row stops, at any moment alike
    before the last half hour; one that under-feeds begins in the first third, so that two refills follow.
    """
    generator = np.random.default_rng([seed, index])
    mph, rate, hopper = (round(generator.uniform(low, high), 1) for low, high in ((4, 6), (7, 10), (25, 35)))
    common = 1 + generator.normal(0, COMMON_SPREAD)
    factors = common * (1 + generator.normal(0, ROW_SPREAD, shift.rows))
    clock, planted = _ground(generator, shift, mph)
    trouble = _trouble(generator, shift)
    return Night(shift, mph, rate, hopper, factors, clock, planted, trouble, (seed, index))


def _ground(generator: Generator, shift: NightModel, mph: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    count = int(np.ceil(shift.hours / STEP))
    efficiency = np.clip(generator.normal(0.68, 0.03) + generator.normal(0, 0.05, count), 0.5, 0.85)
    pace = efficiency * shift.rows * SPACING_IN / 12 * mph / 8.25
    for _ in range(generator.integers(1, 4)):
        first = generator.integers(0, count)
        pace[first : first + generator.integers(1, 5)] = 1e-6
    clock = np.minimum(np.arange(count + 1) * STEP, shift.hours)
    return clock, np.concatenate([[0.0], np.cumsum(pace * np.diff(clock))])


def _trouble(generator: Generator, shift: NightModel) -> RowTrouble:
    row = int(generator.integers(1, shift.rows + 1))
    share = float(generator.random())
    if shift.under_feed is not None:
        drawn = RowTrouble(row, share * shift.hours / 3, 1 - shift.under_feed)
    else:
        drawn = RowTrouble(row, share * max(shift.hours - 0.5, shift.hours / 2))
    return drawn if shift.trouble is None else replace(shift.trouble)
