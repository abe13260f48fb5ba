"""What came of the clips of one set in one condition, counted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.messages import Decision

Z = 1.959964
"""Of the normal distribution, for 95 %."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One clip: whether its words, and whether its meaning, came out right, and what was decided.

    ``false_good`` says that it was kept wrong and proved rows to feed; None where no shift is waited for.
    """

    exact: bool
    right: bool
    decision: Decision
    seconds: float
    said: str = ""
    heard: str = ""
    sure: float = 0.0
    false_good: bool | None = None


@dataclass(frozen=True, slots=True)
class OutcomeTally:
    """Shares of the outcomes; at least one."""

    outcomes: Sequence[Outcome]

    @property
    def shares(self) -> dict[str, float]:
        return {name: hits / len(self.outcomes) for name, hits in self._hits().items()}

    @property
    def intervals(self) -> dict[str, tuple[float, float]]:
        return {name: wilson(hits, len(self.outcomes)) for name, hits in self._hits().items()}

    def seconds(self, quantile: float) -> float:
        return float(np.quantile([one.seconds for one in self.outcomes], quantile))

    def _hits(self) -> dict[str, int]:
        kept = [one for one in self.outcomes if one.decision is Decision.KEEP]
        hits = {
            "exact": sum(one.exact for one in self.outcomes),
            "kept_right": sum(one.right for one in kept),
            "asked": sum(one.decision is Decision.ASK for one in self.outcomes),
            "unclear": sum(one.decision is Decision.UNCLEAR for one in self.outcomes),
            "kept_wrong": sum(not one.right for one in kept),
        }
        during_shift = any(one.false_good is not None for one in self.outcomes)
        return hits | ({"false_good": sum(one.false_good is True for one in self.outcomes)} if during_shift else {})

    def line(self, **place: Any) -> dict[str, Any]:
        """The JSON object of this tally."""
        shares = {name: round(share, 4) for name, share in self.shares.items()}
        times = {"p50_s": round(self.seconds(0.5), 3), "p95_s": round(self.seconds(0.95), 3)}
        return {**place, "n": len(self.outcomes), **shares, **times}


def wilson(hits: int, count: int) -> tuple[float, float]:
    """The 95 % interval of a share of ``count`` trials.

    Source: E. B. Wilson, "Probable inference, the law of succession, and statistical inference", Journal of the
    American Statistical Association 22 (1927), 209-212.
    """
    share, square = hits / count, Z * Z / count
    middle = (share + square / 2) / (1 + square)
    half = Z / (1 + square) * math.sqrt(share * (1 - share) / count + square / (4 * count))
    return max(middle - half, 0.0), min(middle + half, 1.0)
