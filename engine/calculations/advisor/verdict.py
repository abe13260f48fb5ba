"""What a test run says of each row, whatever rule judged it."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Literal

from engine.calculations.kinds import Mass, PerRow, Rate, Ratio
from engine.values import Setting


class Verdict(StrEnum):
    """What to do with one row after a catch.

    ``not_sure``: within tolerance by its catches, which are too few or too coarse to say so. ``doubtful_catch``: its
    last catch does not fit what the row gave before, or lies too far off for a row that is on target: catch again.
    ``intermittent``: that has happened before.
    """

    ON_TARGET = "on_target"
    ADJUST = "adjust"
    RUN_AGAIN = "run_again"
    CLOSEST_NOTCH = "closest_notch"
    CANNOT_TELL = "cannot_tell"
    NOT_SURE = "not_sure"
    DOUBTFUL_CATCH = "doubtful_catch"
    INTERMITTENT = "intermittent"


PASSED = frozenset({Verdict.ON_TARGET, Verdict.CLOSEST_NOTCH})
"""Verdicts that a row may be planted with."""
FIT_TO_PLANT = PASSED | {Verdict.NOT_SURE}
"""Verdicts of rows that nobody need be asked about: what was caught lies within tolerance."""
AGAIN = frozenset({Verdict.ADJUST, Verdict.RUN_AGAIN, Verdict.DOUBTFUL_CATCH})
"""Verdicts that ask for another test run."""
LOST = frozenset({Verdict.CANNOT_TELL, Verdict.INTERMITTENT})
"""Verdicts of rows that no further catch helps: something is to be mended."""


class NextCatch(StrEnum):
    """Whether a row is to be caught in the next run."""

    CATCH = "catch"
    SPARE = "spare"


Move = Literal["settled", "adjust", "run_again", "cannot_tell"]
"""What the whole planter needs next: settled = every row is on target, at its closest notch or as near to it as catches
can say; adjust = at least one row is to be moved; run_again = no row is to be moved but another catch is needed;
cannot_tell = nothing more can be learned this way."""


@dataclass(frozen=True)
class Advice:
    """One verdict and next position per row, and what the whole planter needs next.

    ``errors`` are (caught - target) / target of the rows caught in the last run. ``probabilities`` of being within
    tolerance at the next position, the ``expected`` rate there and its 90 % interval are None where the rule has none.
    Of doubtful and intermittent rows ``gave`` is the catch that does not fit and ``before`` what was to be expected:
    the row's last other catch at that setting, or what the model takes it to give. ``next_catch``: which rows need not
    be caught in the next run.
    """

    outcome: Move
    verdicts: PerRow[Verdict]
    next_settings: PerRow[Setting]
    errors: PerRow[Ratio]
    probabilities: PerRow[Ratio] | None = None
    expected: PerRow[Rate] | None = None
    expected_low: PerRow[Rate] | None = None
    expected_high: PerRow[Rate] | None = None
    gave: PerRow[Mass] = field(default_factory=dict)
    before: PerRow[Mass] = field(default_factory=dict)
    next_catch: PerRow[NextCatch] = field(default_factory=dict)
