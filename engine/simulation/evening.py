"""One evening with a simulated planter: catch, take advice, move the dials, and again until nothing is left to do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from numpy.random import Generator

from engine.calculations.kinds import EveryRun, Mass
from engine.calculations.verdict import Advice, Verdict
from engine.quantities import quantity
from engine.simulation.planter import Fault, Planter
from engine.values import Setting

MOST = 8
"""Test runs after which an evening ends without an answer."""
PASSED = frozenset({Verdict.ON_TARGET, Verdict.CLOSEST_NOTCH})

Advisor = Callable[[EveryRun[Mass], EveryRun[Setting]], Advice]
"""From all catches and the settings they were made at to advice."""


@dataclass(frozen=True)
class Evening:
    """``runs`` made; ``done``: the advisor asked for no further one.

    Of the rows it passed in the end: their true errors (``errors``); how many are ``wrong``, off by more than the
    tolerance and than the row's best notch; and ``claims``, the probability of being within tolerance that was stated
    with whether that is so. ``given_up``: sound rows that the advisor could not tell about.
    """

    runs: int
    done: bool
    errors: tuple[float, ...]
    wrong: int
    given_up: int
    claims: tuple[tuple[float, bool], ...]


def evening(planter: Planter, advisor: Advisor, generator: Generator, tolerance: float) -> Evening:
    """Play one evening."""
    now = dict.fromkeys(planter.rows, planter.start)
    caught: list[dict[int, Mass]] = []
    settings: list[dict[int, Setting]] = []
    while True:
        caught.append({row: quantity(planter.catch(row, now[row], generator), "g") for row in planter.rows})
        settings.append(dict(now))
        advice = advisor(caught, settings)
        done = advice.outcome in {"settled", "cannot_tell"}
        if done or len(caught) == MOST:
            return _ended(planter, advice, now, tolerance, runs=len(caught), done=done)
        now |= advice.next_settings


def _ended(
    planter: Planter, advice: Advice, now: dict[int, Setting], tolerance: float, *, runs: int, done: bool
) -> Evening:
    passed = [row for row, verdict in advice.verdicts.items() if verdict in PASSED]
    errors = {row: abs(planter.error(row, now[row])) for row in passed}
    wrong = [row for row, error in errors.items() if error > max(tolerance, planter.least_error(row) + 1e-9)]
    sound = [row for row, one in planter.rows.items() if one.fault is Fault.NONE]
    given_up = sum(advice.verdicts[row] is Verdict.CANNOT_TELL for row in sound)
    stated = advice.probabilities or {}
    claims = tuple((float(stated[row].magnitude), errors[row] <= tolerance) for row in passed if row in stated)
    return Evening(runs, done, tuple(errors.values()), len(wrong), given_up, claims)
