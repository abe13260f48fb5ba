"""The advisor and the handbook rule on the same simulated planters."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.calculations.advice import advise
from engine.calculations.handbook import handbook_advice
from engine.quantities import quantity
from engine.simulation.evening import Evening, evening
from engine.simulation.planter import STEP_G, TARGET_G, Shape, planter


@dataclass(frozen=True)
class Contest:
    """``noise`` and ``tolerance`` as shares. The advisor is told neither the noise nor the curve."""

    planters: int
    seed: int
    rows: int = 8
    tolerance: float = 0.05
    noise: float = 0.02
    shape: Shape = Shape.PLAIN


def contest(settings: Contest) -> Iterator[tuple[Evening, Evening]]:
    """The evening of each planter with the advisor and with the handbook rule, one pair after the other.

    Planter i of a seed is the same whatever the number of planters; each of its two evenings has its own noise.
    """
    target, allowed, step = quantity(TARGET_G, "g"), quantity(settings.tolerance, "1"), quantity(STEP_G, "g")
    for index in range(settings.planters):
        one = planter(np.random.default_rng([settings.seed, index]), settings.rows, settings.noise, settings.shape)

        def advisor(caught: Any, moved: Any, dial: Any = one.dial) -> Any:
            return advise(caught, moved, target, allowed, dial, scale_step=step)

        def handbook(caught: Any, moved: Any, dial: Any = one.dial) -> Any:
            return handbook_advice(caught, moved, target, allowed, dial)

        first, second = (np.random.default_rng([settings.seed, index, which]) for which in (1, 2))
        yield (
            evening(one, advisor, first, settings.tolerance),
            evening(one, handbook, second, settings.tolerance),
        )
