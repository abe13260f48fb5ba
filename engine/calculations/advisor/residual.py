"""How each catch fits the others: a catch that nothing else explains is doubted, and not averaged in silence.

The residual of catch i against what all other catches lead to expect follows from the inverse A of the covariance of
the catches, r_i = (A (y - m))_i / A_ii, with variance 1 / A_ii, of which the part d_i is the catch's own. A stray has
been given a large d_i, so its own share is counted as that of any other catch. Source: leave-one-out formula of
Gaussian processes (Rasmussen and Williams 2006, section 5.4.2, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.calculations.advisor.forecast import Window
from engine.calculations.advisor.observations import Catch
from engine.calculations.advisor.posterior import Posterior

DEVIATIONS = 3.0
"""A catch this many standard deviations from what was expected does not fit (own decision)."""
STRANGE = math.log(1.2)
"""And it is off by a fifth at least: bridging takes more than that, noise of a few percent does not (own decision)."""


@dataclass(frozen=True)
class Fit:
    """One catch: ``grams``, ``off`` = ln(caught / target) at planting speed, ``noise`` of a catch in log output,
    ``expected`` = the same as the other catches lead to expect, ``strange``: it does not fit them."""

    grams: float
    position: float
    off: float
    noise: float
    expected: float
    strange: bool

    def too_far(self, within: Window) -> bool:
        """Whether it lies farther off the target than tolerance and noise together allow."""
        reach = DEVIATIONS * self.noise
        return not within.low - reach <= self.off <= within.high + reach


def fits(believed: Sequence[Catch], posterior: Posterior) -> dict[int, list[Fit]]:
    """The fit of every catch of this season by row, oldest first; ``believed`` are the catches of ``posterior``."""
    if not believed:
        return {}
    precision = np.diagonal(posterior.inverse)
    residual = posterior.solved / precision
    deviation = np.sqrt(np.maximum(1 / precision - posterior.spread, 0.0) + posterior.own)
    speed = posterior.speed_effect()
    found: dict[int, list[Fit]] = {}
    for index, one in enumerate(believed):
        if one.earlier:
            continue
        off = float(posterior.logs[index] - speed[index])
        noise = math.sqrt(posterior.own[index] + posterior.prior.common**2)
        strange = abs(residual[index]) > max(DEVIATIONS * deviation[index], STRANGE)
        one_fit = Fit(one.grams, one.position, off, noise, off - float(residual[index]), bool(strange))
        found.setdefault(one.row, []).append(one_fit)
    return found
