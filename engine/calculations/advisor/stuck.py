"""How output follows the dial: the slope of the whole planter, and rows that do not follow at all."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

import numpy as np

from engine.calculations.advisor.observations import Catch
from engine.calculations.advisor.response import Nominal

CATCHES = 3
"""Catches before a row is said not to follow its dial (own decision)."""
SHARE = 0.5
"""A row follows when it answers its dial at least this much as the other rows do (own decision)."""
DEVIATIONS = 3.0
"""Standard deviations of doubt that the row is given (own decision)."""
LEAST = 0.3
"""No planter is taken to answer its dials less than this (own judgement)."""
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


def steepness(found: Sequence[Catch], nominal: Nominal) -> float:
    """Slope of the planter over the nominal curve, b = (sum Sxy_r + k) / (sum Sxx_r + k), at least ``LEAST``.

    k = ``BELIEF`` draws it to 1 while the dials have hardly been moved. Derivation: ridge regression about 1.
    """
    return max(
        _pooled([_sums([one for one in found if one.row == row], nominal) for row in {one.row for one in found}]), LEAST
    )


def _pooled(sums: Collection[tuple[float, float]]) -> float:
    return (sum(product for _, product in sums) + BELIEF) / (sum(square for square, _ in sums) + BELIEF)


def _is_stuck(row: int, sums: Mapping[int, tuple[float, float]], noise: float) -> bool:
    square, product = sums[row]
    if square == 0:
        return False
    slope = _pooled([one for other, one in sums.items() if other != row])
    return product / square + DEVIATIONS * noise / math.sqrt(square) < SHARE * slope


def _sums(found: Sequence[Catch], nominal: Nominal) -> tuple[float, float]:
    """Sxx and Sxy of one row about its own means."""
    places = nominal.place(np.array([one.position for one in found]))
    logs = np.log([one.grams for one in found])
    away = places - places.mean()
    return float(away @ away), float(away @ (logs - logs.mean()))
