"""Whether a row that is said to under-feed does: ``python -m tests.bench_row_use [--refills 2000] [--seed 1]``.

Refills are drawn with rows that scatter by 2 to 7 %; three rows in a hundred lack from 10 to 100 % of what they should
feed. Prints what was stated against what was true, how often a sound row was named, and how soon a row that lacks 25 %
was.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray

from engine.calculations.hoppers.use import LEAST, MOST, NAMED, PRIOR, RATE_DOUBT, row_use, use_doubt
from engine.quantities import quantity

PLANTERS, SCATTERS = (6, 8, 12), (0.02, 0.03, 0.05, 0.07)
BINS = (0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.98, 1.01)
FULL, USED_SHARE = 30.0, 0.85
COMMON = float(RATE_DOUBT.to("1").magnitude)


@dataclass(frozen=True)
class Claims:
    """What was stated of every row of every refill, and whether it was so."""

    stated: NDArray[np.float64]
    true: NDArray[np.bool_]

    def bins(self) -> Iterator[dict[str, float]]:
        """Claims of each bin, mean stated probability and share that was true."""
        for low, high in pairwise(BINS):
            some = (self.stated >= low) & (self.stated < high)
            if some.any():
                stated, true = float(self.stated[some].mean()), float(self.true[some].mean())
                yield {"from": low, "claims": int(some.sum()), "stated": round(stated, 3), "true": round(true, 3)}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--refills", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    for scatter in SCATTERS:
        for rows in PLANTERS:
            generator = np.random.default_rng([given.seed, rows, int(1000 * scatter)])
            found = claims(generator, rows, scatter, given.refills)
            named = (found.stated >= NAMED).reshape(-1, rows)
            false = float((named & ~found.true.reshape(-1, rows)).sum() / len(named))
            soon = _soon(generator, rows, scatter, given.refills // 4)
            shown = {"rows": rows, "scatter": scatter, "false_per_refill": round(false, 4), "named_in_two": soon}
            print(json.dumps(shown | {"bins": list(found.bins())}))


def claims(generator: Generator, rows: int, scatter: float, refills: int) -> Claims:
    """What is stated of every row over so many refills of a planter whose rows scatter so."""
    stated, true = [], []
    for _ in range(refills):
        lacks = np.where(generator.random(rows) < PRIOR, generator.uniform(LEAST, MOST, rows), 0.0)
        feeds = 1 + generator.normal(0, scatter, rows) + generator.normal(0, COMMON)
        stated += _stated(generator, feeds - lacks, 1)
        true += list(lacks > 0)
    return Claims(np.array(stated), np.array(true))


def _soon(generator: Generator, rows: int, scatter: float, planters: int) -> float:
    """Share of rows that lack 25 % and are named at the first refill, or by the use over both at the second."""
    found = 0
    for _ in range(planters):
        feeds = 1 + generator.normal(0, scatter, rows) + generator.normal(0, COMMON)
        feeds[0] -= 0.25
        found += any(_stated(generator, feeds, refills)[0] >= NAMED for refills in (1, 2))
    return round(found / planters, 3)


def _stated(generator: Generator, feeds: NDArray[np.float64], refills: int) -> list[float]:
    """What is stated of rows that feed so, from readings of their hoppers over so many refills."""
    doubt = use_doubt(quantity(FULL, "lb"), refills)
    expected = FULL * USED_SHARE * refills
    used = np.maximum(feeds * expected + generator.normal(0, float(doubt.to("lb").magnitude), len(feeds)), 0)
    told = {row: quantity(float(mass), "lb") for row, mass in enumerate(used, 1)}
    chances = row_use(told, quantity(expected, "lb"), doubt).probabilities
    return [float(chances[row].magnitude) for row in told]


if __name__ == "__main__":
    main()
