"""What a test run says of each row, whatever rule judged it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from engine.calculations.kinds import PerRow, Rate, Ratio
from engine.values import Setting


class Verdict(StrEnum):
    """What to do with one row after a catch."""

    ON_TARGET = "on_target"
    ADJUST = "adjust"
    RUN_AGAIN = "run_again"
    CLOSEST_NOTCH = "closest_notch"
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True)
class Advice:
    """One verdict and next position per row, and what the whole planter needs next.

    ``outcome``: settled = every row is on target or at its closest notch; adjust = at least one row is to be moved;
    run_again = no row is to be moved but another catch is needed; cannot_tell = nothing more can be learned this way.
    ``errors`` are (caught - target) / target of the rows caught in the last run. ``probabilities`` of being within
    tolerance at the next position, the ``expected`` rate there and its 90 % interval are None where the rule has none.
    """

    outcome: Literal["settled", "adjust", "run_again", "cannot_tell"]
    verdicts: PerRow[Verdict]
    next_settings: PerRow[Setting]
    errors: PerRow[Ratio]
    probabilities: PerRow[Ratio] | None = None
    expected: PerRow[Rate] | None = None
    expected_low: PerRow[Rate] | None = None
    expected_high: PerRow[Rate] | None = None
