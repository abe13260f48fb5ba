"""What many evenings come to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.simulation.evening import MOST, Evening


@dataclass(frozen=True)
class Tally:
    """Test runs until done, an evening that never got there counted as ``MOST``; ``never``: the share of those;
    ``wrong_rows``: share of passed rows that are wrong; ``mean_error``: mean true error of passed rows."""

    runs_median: float
    runs_mean: float
    runs_p95: float
    never: float
    wrong_rows: float
    mean_error: float


def tally(evenings: Sequence[Evening]) -> Tally:
    runs = np.array([one.runs if one.done else MOST for one in evenings])
    errors = np.array([error for one in evenings for error in one.errors])
    passed = max(len(errors), 1)
    return Tally(
        runs_median=float(np.median(runs)),
        runs_mean=float(np.mean(runs)),
        runs_p95=float(np.quantile(runs, 0.95, method="higher")),
        never=float(np.mean([not one.done for one in evenings])),
        wrong_rows=sum(one.wrong for one in evenings) / passed,
        mean_error=float(np.sum(errors) / passed),
    )


def given_up(evenings: Sequence[Evening]) -> float:
    """Share of evenings in which a sound row ended as one that cannot be told."""
    return float(np.mean([one.given_up > 0 for one in evenings]))
