"""How many test runs a start from the planter's own record saves: ``python -m tests.bench_start --planters 100``.

The same simulated planters a year later: rows a little worn (3 % each), product and weather a little different (5 %
together, both invented). Once more from a guess, with the record of the first year in the advice, and from the settings
that ``start-by-record`` gives.
"""

from __future__ import annotations

import argparse
import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from engine.calculations.advisor.advice import advise
from engine.calculations.advisor.observations import CatchGoal, CatchPrecision, CaughtRuns, EarlierCatches
from engine.calculations.advisor.starting import EarlierRates, start_by_record
from engine.calculations.kinds import Mass
from engine.quantities import quantity
from engine.simulation.evening import MOST
from engine.simulation.family import FOREIGN, relative
from engine.simulation.planter import SimulatedPlanter
from engine.values import Setting

WEAR, LEVEL = 0.03, 0.05
COURSE = quantity(100, "m")


@dataclass(frozen=True)
class Year:
    """What was caught at which settings, run by run."""

    caught: tuple[dict[int, Mass], ...]
    settings: tuple[dict[int, Setting], ...]


def calibrated(planter: SimulatedPlanter, now: Mapping[int, Setting], seed: list[int], before: Year | None) -> Year:
    """The runs until nothing is left to do."""
    generator = np.random.default_rng(seed)
    caught: list[dict[int, Mass]] = []
    settings: list[dict[int, Setting]] = []
    while True:
        drive = planter.drive(len(caught), generator)
        caught.append({row: quantity(planter.catch(row, now[row], generator, drive), "g") for row in planter.rows})
        settings.append(dict(now))
        found = advise(
            CaughtRuns(caught, settings),
            CatchGoal(quantity(planter.target, "g"), quantity(5, "%")),
            planter.dial,
            CatchPrecision(quantity(planter.step, "g")),
            EarlierCatches(before.caught, before.settings) if before else EarlierCatches(),
        )
        if found.outcome in {"settled", "cannot_tell"} or len(caught) == MOST:
            return Year(tuple(caught), tuple(settings))
        now = {**now, **found.next_settings}


def a_year_later(planter: SimulatedPlanter, seed: list[int]) -> SimulatedPlanter:
    generator = np.random.default_rng(seed)
    level = generator.normal(0, LEVEL)
    rows = {
        row: dataclasses.replace(one, factor=one.factor + level + generator.normal(0, WEAR))
        for row, one in planter.rows.items()
    }
    return dataclasses.replace(planter, rows=rows)


def from_record(planter: SimulatedPlanter, year: Year) -> dict[int, Setting]:
    rates = [{row: one / COURSE for row, one in run.items()} for run in year.caught]
    wanted, spacing = quantity(planter.target, "g") / COURSE, quantity(30, "in")
    found = start_by_record(max(planter.rows), wanted, spacing, planter.dial, EarlierRates(rates, year.settings))
    return {row: found.settings[row] for row in planter.rows}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--planters", type=int, default=100, help="of each of four families")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    runs: dict[str, list[int]] = {"first year": [], "a year later, same guess": [], "a year later, from the record": []}
    for family in FOREIGN[:4]:
        for index in range(given.planters):
            seed = [given.seed, index]
            planter = relative(np.random.default_rng(seed), family)
            guess = dict.fromkeys(planter.rows, planter.start)
            first, later = calibrated(planter, guess, [*seed, 1], None), a_year_later(planter, [*seed, 2])
            years = (
                first,
                calibrated(later, guess, [*seed, 3], first),
                calibrated(later, from_record(planter, first), [*seed, 3], first),
            )
            for name, year in zip(runs, years, strict=True):
                runs[name].append(len(year.caught))
    for name, found in runs.items():
        print(f"{name}: {np.mean(found):.2f} runs, standard error {np.std(found) / len(found) ** 0.5:.2f}")


if __name__ == "__main__":
    main()
