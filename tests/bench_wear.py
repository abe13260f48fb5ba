"""How often wear is told where there is none, and found where there is: ``python -m tests.bench_wear --machines 300``.

Invented machines: rows differ by 4.7 % (as ``advisor.prior`` has it), a catch scatters by 2.5 %, the level
of all rows changes from year to year, and dials are set anew to whole notches each year. One row wears.
"""

from __future__ import annotations

import argparse

import numpy as np

from engine.calculations.hoppers.wear import Drift, Wear, wear
from engine.quantities import quantity
from engine.values import Dial

DIAL = Dial.numbered(0, 30, 1)
MIDDLE, TARGET, ROWS_APART, CATCH, LEVEL, RUNS = 12, 39.0, 0.047, 0.025, 0.1, 2
TELLING = {Drift.RISING, Drift.FALLING}


def machine(generator: np.random.Generator, rows: int, seasons: int, worn: float) -> Wear:
    """The wear that is told of one machine whose first row feeds by ``worn`` less each season."""
    factor = np.exp(generator.normal(0, ROWS_APART, rows))
    caught, settings, years = [], [], []
    for season in range(seasons):
        now = factor.copy()
        now[0] *= (1 - worn) ** season
        level = np.exp(generator.normal(0, LEVEL))
        places = np.clip(np.round(MIDDLE / now), 1, 30)
        for _ in range(RUNS):
            grams = TARGET * places / MIDDLE * now * level * np.exp(generator.normal(0, CATCH, rows))
            caught.append({row: quantity(float(one), "g") for row, one in enumerate(grams, 1)})
            settings.append({row: DIAL.setting(float(one)) for row, one in enumerate(places, 1)})
            years.append(dict.fromkeys(range(1, rows + 1), 2020 + season))
    return wear(caught, settings, DIAL, years)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--machines", type=int, default=300)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    print("rows seasons  sound machine told   found at 2 %  4 %  6 %   another row told beside 4 %")
    for rows in (4, 8, 16):
        for seasons in (3, 4, 5, 6):
            generator = np.random.default_rng([given.seed, rows, seasons])
            sound = [machine(generator, rows, seasons, 0.0) for _ in range(given.machines)]
            wrong = np.mean([bool({*one.drifts.values()} & TELLING) for one in sound])
            worn = {
                by: [machine(generator, rows, seasons, by) for _ in range(given.machines)] for by in (0.02, 0.04, 0.06)
            }
            found = [np.mean([one.drifts[1] is Drift.RISING for one in each]) for each in worn.values()]
            beside = np.mean([any(one.drifts[row] in TELLING for row in one.drifts if row > 1) for one in worn[0.04]])
            shares = "  ".join(f"{share:5.0%}" for share in found)
            print(f"{rows:4} {seasons:7}  {wrong:18.1%}   {shares}   {beside:.1%}")


if __name__ == "__main__":
    main()
