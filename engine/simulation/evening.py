"""One evening with a simulated planter: catch, take advice, move the dials, and again until nothing is left to do."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from numpy.random import Generator

from engine.calculations.advisor.verdict import LOST, PASSED, Advice, NextCatch
from engine.calculations.domain import at_most, number
from engine.calculations.kinds import EveryRun, Mass, Speed
from engine.calculations.runs.run_verdict import for_uncaught
from engine.quantities import Quantity, quantity
from engine.simulation.planter import Drive, RowFault, SimulatedPlanter
from engine.values import Setting

MOST = 8
"""Test runs after which an evening ends without an answer."""
PLANNED = quantity(5, "mph")
"""Planting speed."""
BAD = 0.85
"""A last catch below this share of the target is a bad one for a row that bridges."""

Advisor = Callable[[EveryRun[Mass], EveryRun[Setting], EveryRun[Speed]], Advice]
"""From all catches, the settings they were made at and the speeds driven to advice."""


@dataclass(frozen=True)
class Evening:
    """``runs`` made; ``done``: the advisor asked for no further one; ``catches`` weighed. ``returned``: moves of rows
    whose last catch lay within tolerance, back to a setting at which they stood before.

    Of the rows it passed in the end: their true errors at the next drive (``errors``); how many are ``wrong``, off by
    more than the tolerance and than the row's best notch, or bridging now and then; and ``claims``, the probability of
    being within tolerance that was stated with whether that is so. ``given_up``: sound rows that the advisor could not
    tell about, ``sound``: how many there are, ``rows``: of all; ``unsure``: rows that are neither passed nor given up;
    ``bad_last``: bridging rows that were passed on a bad last catch.
    """

    runs: int
    done: bool
    errors: tuple[float, ...]
    wrong: int
    given_up: int
    claims: tuple[tuple[float, bool], ...]
    sound: int = 0
    rows: int = 0
    unsure: int = 0
    bad_last: int = 0
    catches: int = 0
    returned: int = 0


def evening(
    planter: SimulatedPlanter, advisor: Advisor, generator: Generator, tolerance: float, *, sparing: bool = False
) -> Evening:
    """Play one evening; ``sparing``: rows that the advice says need no catch are not caught in the next run."""
    now = dict.fromkeys(planter.rows, planter.start)
    caught: list[dict[int, Mass]] = []
    settings: list[dict[int, Setting]] = []
    speeds: list[dict[int, Speed]] = []
    spared: frozenset[int] = frozenset()
    returned = 0
    while True:
        drive = planter.drive(len(caught), generator)
        weighed = {row: planter.catch(row, now[row], generator, drive) for row in planter.rows}
        grams = {row: one for row, one in weighed.items() if row not in spared}
        caught.append({row: quantity(one, "g") for row, one in grams.items()})
        settings.append(dict(now))
        speeds.append(dict.fromkeys(planter.rows, driven(drive)))
        advice = for_uncaught(advisor(caught, settings, speeds), caught, settings)
        done = advice.outcome in {"settled", "cannot_tell"}
        if done or len(caught) == MOST:
            last = {row: number(one / quantity(1, "g")) for run in caught for row, one in run.items()}
            ended = _ended(planter, advice, now, tolerance, last, done=done, runs=len(caught))
            return replace(ended, catches=sum(map(len, caught)), returned=returned)
        returned += _returned(advice, settings, tolerance)
        now |= advice.next_settings
        spared = frozenset(row for row, one in advice.next_catch.items() if sparing and one is NextCatch.SPARE)


def _returned(advice: Advice, settings: EveryRun[Setting], tolerance: float) -> int:
    *before, now = settings
    within = (row for row, error in advice.errors.items() if at_most(abs(number(error)), tolerance))
    after = ((row, advice.next_settings.get(row, now[row])) for row in within)
    return sum(one != now[row] and any(run[row] == one for run in before) for row, one in after)


def driven(drive: Drive) -> Quantity:
    """The speed that the stopwatch shows."""
    return quantity(5 * math.exp(drive.speed), "mph")


def _ended(
    planter: SimulatedPlanter,
    advice: Advice,
    now: dict[int, Setting],
    tolerance: float,
    last: dict[int, float],
    *,
    runs: int,
    done: bool,
) -> Evening:
    level = planter.habits.drift * runs
    passed = [row for row, verdict in advice.verdicts.items() if verdict in PASSED]
    errors = {row: abs(planter.error(row, now[row], level)) for row in passed}
    bridging = {row for row in passed if planter.rows[row].fault is RowFault.INTERMITTENT}
    wrong = {row for row, error in errors.items() if error > max(tolerance, planter.least_error(row, level) + 1e-9)}
    sound = [row for row, one in planter.rows.items() if one.fault is RowFault.NONE]
    stated = advice.probabilities or {}
    return Evening(
        runs,
        done,
        tuple(errors.values()),
        len(wrong | bridging),
        sum(advice.verdicts[row] in LOST for row in sound),
        tuple((float(stated[row].magnitude), errors[row] <= tolerance) for row in passed if row in stated),
        len(sound),
        len(planter.rows),
        sum(verdict not in PASSED | LOST for verdict in advice.verdicts.values()),
        sum(last[row] < BAD * planter.target for row in bridging),
    )
