"""The advisor and the handbook rule on the same simulated planters."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.random import Generator

from engine.calculations.advisor.advice import advise
from engine.calculations.advisor.handbook import handbook_advice
from engine.calculations.advisor.observations import CatchGoal, CatchPrecision, CaughtRuns
from engine.calculations.advisor.verdict import Advice
from engine.calculations.kinds import EveryRun, Mass, Speed
from engine.quantities import Quantity, quantity
from engine.simulation.evening import PLANNED, Advisor, Evening, evening
from engine.simulation.family import Family, relative
from engine.simulation.planter import OutputCurve, SimulatedPlanter, planter
from engine.values import Setting


@dataclass(frozen=True)
class Contest:
    """``noise`` and ``tolerance`` as shares. The advisor is told neither the noise nor the curve; with ``sparing`` it
    need not catch rows that are surely on target. Planters of another ``family`` than its own have rows, noise and
    scale of their own."""

    planters: int
    seed: int
    rows: int = 8
    tolerance: float = 0.05
    noise: float = 0.02
    shape: OutputCurve = OutputCurve.PLAIN
    family: Family = Family.OWN
    sparing: bool = False


def contest(settings: Contest) -> Iterator[tuple[Evening, Evening]]:
    """The evening of each planter with the advisor and with the handbook rule, one pair after the other.

    Planter i of a seed is the same whatever the number of planters; each of its two evenings has its own noise.
    """
    for index in range(settings.planters):
        one = _drawn(settings, np.random.default_rng([settings.seed, index]))
        first, second = (np.random.default_rng([settings.seed, index, which]) for which in (1, 2))
        yield (
            evening(one, _advisor(one, settings), first, settings.tolerance, sparing=settings.sparing),
            evening(one, _handbook(one, settings), second, settings.tolerance),
        )


def _drawn(settings: Contest, generator: Generator) -> SimulatedPlanter:
    if settings.family is Family.OWN:
        return planter(generator, settings.rows, settings.noise, settings.shape)
    return relative(generator, settings.family)


def _advisor(one: SimulatedPlanter, settings: Contest) -> Advisor:
    target, allowed, step = _told(one, settings)

    planned = PLANNED if one.habits.speed else None

    def advisor(caught: EveryRun[Mass], moved: EveryRun[Setting], speeds: EveryRun[Speed]) -> Advice:
        runs = CaughtRuns(caught, moved, speeds, planned)
        return advise(runs, CatchGoal(target, allowed), one.dial, CatchPrecision(step))

    return advisor


def _handbook(one: SimulatedPlanter, settings: Contest) -> Advisor:
    target, allowed, _ = _told(one, settings)
    return lambda caught, moved, _speeds: handbook_advice(caught, moved, target, allowed, one.dial)


def _told(one: SimulatedPlanter, settings: Contest) -> tuple[Quantity, Quantity, Quantity]:
    return quantity(one.target, "g"), quantity(settings.tolerance, "1"), quantity(one.step, "g")
