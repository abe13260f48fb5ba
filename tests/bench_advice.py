"""How long advice takes: ``python -m tests.bench_advice [--rows 24] [--runs 8] [--repeats 50]``.

``bot`` comes first, as it does in the program: it sets the threads of the matrix library before numpy is loaded.
"""

from __future__ import annotations

import bot  # noqa: F401

# isort: split
import argparse
import json
import time

import numpy as np

from engine.calculations.advisor.advice import advise
from engine.calculations.advisor.observations import CatchGoal, CatchPrecision, CaughtRuns
from engine.quantities import quantity
from engine.simulation.planter import STEP_G, TARGET_G, planter


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    for name, value in (("rows", 24), ("runs", 8), ("repeats", 50)):
        parser.add_argument(f"--{name}", type=int, default=value)
    given = parser.parse_args()
    generator = np.random.default_rng(1)
    one = planter(generator, given.rows, 0.02)
    dial, span = one.dial, 4
    settings = [
        {row: dial.setting(one.start.position + dial.step * int(generator.integers(-span, span))) for row in one.rows}
        for _ in range(given.runs)
    ]
    caught = [{row: quantity(one.catch(row, at, generator), "g") for row, at in run.items()} for run in settings]
    target, tolerance, step = quantity(TARGET_G, "g"), quantity(5, "%"), quantity(STEP_G, "g")
    took = []
    for _ in range(given.repeats):
        began = time.perf_counter()
        advise(CaughtRuns(caught, settings), CatchGoal(target, tolerance), dial, CatchPrecision(step))
        took.append(time.perf_counter() - began)
    middle, most = np.quantile(took, [0.5, 0.95])
    print(json.dumps({"rows": given.rows, "runs": given.runs, "p50_ms": 1e3 * middle, "p95_ms": 1e3 * most}))


if __name__ == "__main__":
    main()
