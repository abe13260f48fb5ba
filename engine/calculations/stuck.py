"""Rows whose output does not follow their dial: a slipping lever, a stuck gate, a dial that was never moved."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from engine.calculations.evidence import Catch
from engine.calculations.response import Nominal

CATCHES = 3
"""Catches before a row is said not to follow its dial (own decision)."""
SHARE = 0.5
"""A row follows when it answers its dial at least this much as the other rows do (own decision)."""
DEVIATIONS = 3.0
"""Standard deviations of doubt that the row is given (own decision)."""
BELIEF = 0.01
"""What the nominal slope of 1 is worth beside the other rows' catches, as a sum of squared places (own judgement)."""


def stuck_rows(found: Sequence[Catch], nominal: Nominal, noise: float) -> frozenset[int]:
    """Rows that do not follow their dial: b_r + 3 noise / sqrt(Sxx_r) < b / 2.

    b_r = Sxy_r / Sxx_r is the least-squares slope of ln(caught) over the nominal log place within row r, b the slope
    pooled within the other rows and drawn to the nominal 1; ``noise`` is the deviation of one catch in log. A row with
    fewer than three catches or caught at one place only is never called stuck. Derivation: this docstring.
    """
    sums = {row: _sums([one for one in found if one.row == row], nominal) for row in {one.row for one in found}}
    counts = {row: sum(one.row == row for one in found) for row in sums}
    return frozenset(row for row in sums if counts[row] >= CATCHES and _is_stuck(row, sums, noise))


def _is_stuck(row: int, sums: Mapping[int, tuple[float, float]], noise: float) -> bool:
    square, product = sums[row]
    if square == 0:
        return False
    others = [one for other, one in sums.items() if other != row]
    slope = (sum(product for _, product in others) + BELIEF) / (sum(square for square, _ in others) + BELIEF)
    return product / square + DEVIATIONS * noise / math.sqrt(square) < SHARE * slope


def _sums(found: Sequence[Catch], nominal: Nominal) -> tuple[float, float]:
    """Sxx and Sxy of one row about its own means."""
    places = nominal.place(np.array([one.position for one in found]))
    logs = np.log([one.grams for one in found])
    away = places - places.mean()
    return float(away @ away), float(away @ (logs - logs.mean()))
