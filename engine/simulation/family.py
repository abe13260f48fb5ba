"""Families of simulated planters that the model of the advice does not contain, weighed as people weigh.

Six to twelve rows, catches of 15-250 g, scales of 0.1 g, 1 g, 5 g and 0.1 oz or a tube of 1 mL, noise of 1.5-3 %. Where
one step of the scale is more than a twentieth of the catch, several passes go into one container, four at most.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.random import Generator

from engine.simulation.planter import Curve, Habits, Response, Row, RowFault, SimulatedPlanter, marks, start
from engine.values import Dial

COARSE = 0.05
PASSES = 4
"""From which share of the catch a scale step asks for several passes into one container, and how many at most."""
FINE, COARSER = (0.1, 1.0, 5.0, 2.835, 0.0), (5.0, 2.835, 0.0)
"""Steps of scales [g]; 0.0 stands for a tube of 1 mL."""


class Family(StrEnum):
    """``own``: the planters of ``engine.simulation.planter``. The seven next are what no model here contains.

    ``gravity``: an orifice with a threshold, output ~ (p - z)^c with c 1.3-2.2; ``roll``: a straight line with a dead
    zone of one or two notches; ``s-shape``; ``letters``: marks of uneven steps; ``speed``: runs driven up to 8 % off
    the planned speed, the time told; ``faults``: one worn row, one that leaks, one that bridges now and then;
    ``moisture``: 0.8-2 % more or less with each run. ``shared``: an error of 1.5 % common to all rows of a run;
    ``coarse``: scales of 5 g and 0.1 oz and the tube, catches of 15-60 g.
    """

    OWN = "own"
    GRAVITY = "gravity"
    ROLL = "roll"
    S_SHAPE = "s-shape"
    LETTERS = "letters"
    SPEED = "speed"
    FAULTS = "faults"
    MOISTURE = "moisture"
    SHARED = "shared"
    COARSE = "coarse"


FOREIGN = tuple(Family)[1:8]
"""The seven families that count together."""


@dataclass(frozen=True)
class Logistic:
    """An S: output rises from ``low`` to ``high`` of the target, half way at ``centre`` notches, over ``width``."""

    low: float
    high: float
    centre: float
    width: float

    def log_output(self, notches: float) -> float:
        rise = 1 / (1 + math.exp(-(notches - self.centre) / self.width))
        return math.log(self.low + (self.high - self.low) * rise)


@dataclass(frozen=True)
class Uneven:
    """A curve over marks that are not equally far apart: ``places`` of the marks, ``middle`` the mark of place 0."""

    curve: Curve
    places: tuple[float, ...]
    middle: float

    def log_output(self, notches: float) -> float:
        at = np.interp(notches + self.middle, np.arange(len(self.places)), self.places)
        return self.curve.log_output(float(at))


def relative(generator: Generator, family: Family) -> SimulatedPlanter:
    """Draw one planter of a family that is not ``own``."""
    dial, middle, curve = _response(generator, family)
    rows = {row: _row(generator) for row in range(1, int(generator.choice([6, 8, 12])) + 1)}
    if family is Family.FAULTS:
        rows |= _faulty(generator, len(rows))
    begin = start(dial, middle, curve, generator.uniform(0.7, 1.3))
    noise = generator.uniform(0.015, 0.03)
    target, step = _weighed(generator, coarse=family is Family.COARSE)
    one = SimulatedPlanter(dial, middle, curve, rows, begin, noise, target=target, step=step)
    return dataclasses.replace(one, habits=_habits(generator, family))


def _row(generator: Generator) -> Row:
    return Row(generator.normal(0, 0.05), generator.normal(0, 0.1))


def _faulty(generator: Generator, rows: int) -> dict[int, Row]:
    worn, leaking, bridging = (int(one) for one in 1 + generator.permutation(rows)[:3])
    return {
        worn: Row(-generator.uniform(0.1, 0.2), 0.0, RowFault.WORN),
        leaking: Row(generator.normal(0, 0.05), 0.0, RowFault.LEAKING, leak=generator.uniform(0.05, 0.15)),
        bridging: Row(generator.normal(0, 0.05), 0.0, RowFault.INTERMITTENT),
    }


def _habits(generator: Generator, family: Family) -> Habits:
    if family is Family.SPEED:
        return Habits(speed=0.08, exponent=float(generator.choice([0.5, 1.0])))
    if family is Family.MOISTURE:
        return Habits(drift=float(generator.choice([-1, 1]) * generator.uniform(0.008, 0.02)))
    return Habits(common=0.015) if family is Family.SHARED else Habits()


def _weighed(generator: Generator, *, coarse: bool) -> tuple[float, float]:
    """Target and step of the scale [g], over as many passes as the step asks for."""
    target = math.exp(generator.uniform(math.log(15), math.log(60 if coarse else 250)))
    step = float(generator.choice(COARSER if coarse else FINE)) or generator.uniform(0.5, 1.0)
    passes = min(PASSES, max(1, math.ceil(step / (COARSE * target))))
    return target * passes, step


def _response(generator: Generator, family: Family) -> tuple[Dial, float, Response]:
    notch = generator.uniform(0.03, 0.08)
    if family is Family.S_SHAPE:
        return _s_shape(generator, notch)
    if family is Family.LETTERS:
        return _letters(generator, notch)
    if family is Family.GRAVITY:
        power = generator.uniform(1.3, 2.2)
        return _numbered(generator, Curve(power / notch, power), generator.uniform(0, 1 / 3))
    dead = generator.uniform(1, 2) if family is Family.ROLL else 0.0
    power = 1.0 if family is Family.ROLL else generator.uniform(0.8, 1.5)
    reach = power / notch
    curve = Curve(reach, power, dead_at=generator.uniform(-0.2, 0.2) * reach, dead=dead)
    return _numbered(generator, curve, generator.uniform(0, 1 / 3))


def _numbered(generator: Generator, curve: Curve, zero: float) -> tuple[Dial, float, Response]:
    """A dial of numbers from 0 on which nothing comes below a share ``zero`` of the way."""
    step = float(generator.choice([0.25, 0.5, 1.0, 2.0]))
    count = math.ceil((2.2 + zero) * curve.reach)
    return Dial.numbered(0, count * step, step), curve.reach * (1 + zero), curve


def _s_shape(generator: Generator, notch: float) -> tuple[Dial, float, Response]:
    low, high = generator.uniform(0.05, 0.3), generator.uniform(1.6, 2.4)
    share = (1 - low) / (high - low)
    width = (high - low) * share * (1 - share) / notch
    curve = Logistic(low, high, -width * math.log(share / (1 - share)), width)
    count = math.ceil(8 * width)
    middle = float(generator.uniform(0.4, 0.6) * count)
    return Dial.numbered(0, count, 1), middle, curve


def _letters(generator: Generator, notch: float) -> tuple[Dial, float, Response]:
    curve = Curve(1 / notch, 1.0)
    count = math.ceil(2.2 * curve.reach)
    places = np.cumsum(np.clip(generator.normal(1, 0.35, count + 1), 0.2, None)) - 1.0
    middle = float(np.interp(curve.reach, places, np.arange(count + 1)))
    return Dial.marked(marks(count)), middle, Uneven(curve, tuple(places - curve.reach), middle)
