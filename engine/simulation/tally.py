"""What many evenings come to."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from engine.simulation.evening import MOST, Evening

DRAWS = 1000
"""Samples of a bootstrap interval."""
T = TypeVar("T")


@dataclass(frozen=True)
class RunsTally:
    """Test runs until done, an evening that never got there counted as ``MOST``; ``within_3`` and so on: share of
    evenings done within so many runs; ``wrong_rows``: share of passed rows that are wrong; ``mean_error``: mean true
    error of passed rows; of sound rows the share ``given_up``; ``unsure``: share of rows neither passed nor given up;
    ``stated``: mean probability stated for passed rows, ``true``: share of them that is so; ``bad_last``: bridging rows
    passed on a bad last catch; ``catches`` of an evening, mean; ``returned``: moves back of rows within tolerance, per
    row; ``sure``: share within tolerance of the rows that were passed with .95 to .98."""

    runs_median: float
    runs_mean: float
    runs_p95: float
    within_3: float
    within_4: float
    within_8: float
    wrong_rows: float
    mean_error: float
    given_up: float
    unsure: float
    stated: float
    true: float
    bad_last: int
    catches: float
    returned: float
    sure: float

    @property
    def never(self) -> float:
        return 1 - self.within_8


def tally(evenings: Sequence[Evening]) -> RunsTally:
    runs = np.array([one.runs if one.done else MOST + 1 for one in evenings])
    counted = np.minimum(runs, MOST)
    errors = np.array([error for one in evenings for error in one.errors])
    claims = np.array([claim for one in evenings for claim in one.claims]).reshape(-1, 2)
    passed, rows = max(len(errors), 1), max(sum(one.rows for one in evenings), 1)
    return RunsTally(
        runs_median=float(np.median(counted)),
        runs_mean=float(np.mean(counted)),
        runs_p95=float(np.quantile(counted, 0.95, method="higher")),
        within_3=float(np.mean(runs <= 3)),
        within_4=float(np.mean(runs <= 4)),
        within_8=float(np.mean(runs <= MOST)),
        wrong_rows=sum(one.wrong for one in evenings) / passed,
        mean_error=float(np.sum(errors) / passed),
        given_up=sum(one.given_up for one in evenings) / max(sum(one.sound for one in evenings), 1),
        unsure=sum(one.unsure for one in evenings) / rows,
        stated=float(np.sum(claims[:, 0]) / max(len(claims), 1)),
        true=float(np.sum(claims[:, 1]) / max(len(claims), 1)),
        bad_last=sum(one.bad_last for one in evenings),
        catches=mean_catches(evenings),
        returned=sum(one.returned for one in evenings) / rows,
        sure=_within_band(claims),
    )


def _within_band(claims: NDArray[np.float64]) -> float:
    """Share within tolerance of what was claimed with a probability of .95 to .98; 1 where nothing was."""
    band = claims[(claims[:, 0] >= 0.95) & (claims[:, 0] < 0.98)]
    return float(np.mean(band[:, 1])) if len(band) else 1.0


def given_up(evenings: Sequence[Evening]) -> float:
    """Share of evenings in which a sound row ended as one that cannot be told."""
    return float(np.mean([one.given_up > 0 for one in evenings]))


def interval(evenings: Sequence[T], figure: Callable[[Sequence[T]], float], seed: int = 1) -> tuple[float, float]:
    """The 95 % bootstrap interval of a figure of evenings, whole evenings drawn with replacement.

    Source: percentile bootstrap, Efron 1979 (from memory).
    """
    generator, count = np.random.default_rng(seed), len(evenings)
    drawn = [figure([evenings[i] for i in generator.integers(count, size=count)]) for _ in range(DRAWS)]
    low, high = np.quantile(drawn, [0.025, 0.975])
    return float(low), float(high)


def mean_runs(evenings: Sequence[Evening]) -> float:
    """Mean number of runs, an evening that is not done counted as ``MOST``."""
    return sum(one.runs for one in evenings) / len(evenings)


def mean_catches(evenings: Sequence[Evening]) -> float:
    """Mean number of catches of an evening."""
    return sum(one.catches for one in evenings) / len(evenings)


def wrong_share(evenings: Sequence[Evening]) -> float:
    """Share of passed rows that are wrong."""
    return sum(one.wrong for one in evenings) / max(sum(len(one.errors) for one in evenings), 1)


def times_as_many(pairs: Sequence[tuple[Evening, Evening]]) -> float:
    """How many times as many runs the second of each pair took as the first, all pairs together."""
    return sum(other.runs for _, other in pairs) / sum(one.runs for one, _ in pairs)
