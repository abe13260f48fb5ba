"""A simulated planter: an unknown curve over its dials, rows that differ, catches that scatter, a scale that rounds.

Nothing here is known to an advisor but the dial, the settings and the weighed catches. Every draw comes from the
generator that is passed in, so one seed is one planter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

import numpy as np
from numpy.random import Generator

from engine.values import Dial, Setting

TARGET_G = 49.5
STEP_G = 1.0
FAULTY = 0.01
"""Share of rows that are faulty."""
BRIDGES, BRIDGED = 0.35, (0.3, 0.8)
"""How often an intermittent row gives too little, and what share it gives then."""


class OutputCurve(StrEnum):
    """The curve of output over position, and how catches scatter about it.

    ``plain``: k (p - z)^c. Not contained in the model of the advisor: ``kinked``: its slope changes by a factor of up
    to 2 either way at one place near the target; ``dead-zone``: over two or three notches turning the dial does
    nothing; ``heavy-tails``: noise by Student's t with 3 degrees of freedom and the same standard deviation.
    """

    PLAIN = "plain"
    KINKED = "kinked"
    DEAD_ZONE = "dead-zone"
    HEAVY_TAILS = "heavy-tails"


class RowFault(StrEnum):
    """What is wrong with a row.

    ``stopped`` gives nothing, ``unrepeatable`` what it likes, ``stuck`` does not follow its dial, ``intermittent``
    bridges now and then; a ``worn`` row gives less and a ``leaking`` one more at any mark, and both can be brought in.
    """

    NONE = "none"
    STOPPED = "stopped"
    UNREPEATABLE = "unrepeatable"
    STUCK = "stuck"
    WORN = "worn"
    LEAKING = "leaking"
    INTERMITTENT = "intermittent"


class Response(Protocol):
    """Log output over notches from the nominal place of the target."""

    def log_output(self, notches: float) -> float:
        """ln(output / target) so many notches above the nominal place of the target."""
        ...


@dataclass(frozen=True)
class Curve:
    """Log output over notches from the nominal place of the target: c ln(1 + u / reach), u bent and flattened first.

    ``reach``: notches from no output to the target; ``power`` c; a kink ``kink_at`` changes the slope by ``kink``; a
    dead zone of ``dead`` notches begins at ``dead_at``.
    """

    reach: float
    power: float
    kink_at: float = 0.0
    kink: float = 1.0
    dead_at: float = 0.0
    dead: float = 0.0

    def log_output(self, notches: float) -> float:
        flat = notches - min(max(notches - self.dead_at, 0.0), self.dead)
        bent = flat + (self.kink - 1) * max(flat - self.kink_at, 0.0)
        return self.power * math.log(max(1 + bent / self.reach, 1e-3))


@dataclass(frozen=True)
class Row:
    """One row: log factor against the planter, offset of its dial in notches, its fault; ``leak``: share of the target
    that comes out whatever the dial."""

    factor: float
    offset: float
    fault: RowFault = RowFault.NONE
    leak: float = 0.0


@dataclass(frozen=True)
class Habits:
    """What changes from run to run for all rows alike, in log output unless said otherwise.

    ``common``: standard deviation of an error that a run has as a whole; ``drift``: change of the level with each run;
    ``speed``: the most by which the speed may be off, as a share; ``exponent``: n in output ~ speed^-n.
    """

    common: float = 0.0
    drift: float = 0.0
    speed: float = 0.0
    exponent: float = 0.0


@dataclass(frozen=True)
class Drive:
    """One drive over the course: ``speed`` as ln(driven / planned), ``level`` of the planter then, ``common`` error."""

    speed: float = 0.0
    level: float = 0.0
    common: float = 0.0


AS_PLANNED = Drive()


@dataclass(frozen=True)
class SimulatedPlanter:
    """``middle``: the notch, from the dial's low end and not whole, at which an average row gives the target.

    ``target``, ``step`` of the scale [g].
    """

    dial: Dial
    middle: float
    curve: Response
    rows: dict[int, Row]
    start: Setting
    noise: float
    shape: OutputCurve = OutputCurve.PLAIN
    target: float = TARGET_G
    step: float = STEP_G
    habits: Habits = Habits()

    def drive(self, run: int, generator: Generator) -> Drive:
        """What run number ``run``, from 0, is like; a planter without habits draws nothing."""
        one = self.habits
        if one == Habits():
            return AS_PLANNED
        speed = math.log1p(generator.uniform(-one.speed, one.speed))
        return Drive(speed, one.drift * run, one.common * generator.standard_normal())

    def error(self, row: int, setting: Setting, level: float = 0.0) -> float:
        """True output of a row at a setting and planting speed against the target, -1 .. : what no scale ever shows."""
        one = self.rows[row]
        if one.fault is RowFault.STOPPED:
            return -1.0
        place = self.start if one.fault is RowFault.STUCK else setting
        notches = (place.position - self.dial.low) / self.dial.step - self.middle + one.offset
        return math.exp(one.factor + self.curve.log_output(notches) + level) + one.leak - 1

    def least_error(self, row: int, level: float = 0.0) -> float:
        """The smallest true error that any notch of the row's dial reaches."""
        notches = range(self.dial.notches)
        return min(abs(self.error(row, self.dial.setting(self.dial.low + n * self.dial.step), level)) for n in notches)

    def catch(self, row: int, setting: Setting, generator: Generator, drive: Drive = AS_PLANNED) -> float:
        """What one weighed catch of a row reads [g]."""
        fault = self.rows[row].fault
        noise = 0.2 if fault is RowFault.UNREPEATABLE else self.noise
        tails = self.shape is OutputCurve.HEAVY_TAILS
        shake = generator.standard_t(3) / math.sqrt(3) if tails else generator.standard_normal()
        given = (1 + self.error(row, setting, drive.level)) * max(1 + noise * shake, 0)
        if fault is RowFault.INTERMITTENT and generator.random() < BRIDGES:
            given *= generator.uniform(*BRIDGED)
        given *= math.exp(drive.common - self.habits.exponent * drive.speed)
        return round(self.target * given / self.step) * self.step


def planter(generator: Generator, rows: int, noise: float, shape: OutputCurve = OutputCurve.PLAIN) -> SimulatedPlanter:
    """Draw one planter.

    One notch at the target is 3-8 % of output; the power of the curve 0.8-1.3; the dial's zero lies up to a third of
    the way to the target from where output is zero; row factors scatter by 5 % (near the survey's CV of 4.7 %, NE-1982)
    and their dials by a tenth of a notch; the common start gives 30 % too little to 30 % too much. Two dials of three
    carry numbers, the third marks. One row in a hundred is faulty.
    """
    notch, power = generator.uniform(0.03, 0.08), generator.uniform(0.8, 1.3)
    reach = power / notch
    curve = _curve(generator, reach, power, shape)
    step = float(generator.choice([0.25, 0.5, 1.0, 2.0]))
    zero = generator.uniform(-1 / 3, 1 / 3) * reach
    count = math.ceil(2.2 * reach)
    marked = generator.random() < 1 / 3
    low = 0.0 if marked else max(0.0, math.ceil(zero)) * step
    dial = Dial.marked(marks(count)) if marked else Dial.numbered(low, low + count * step, step)
    middle = reach if marked else reach + zero - low / step
    drawn = {row: _row(generator) for row in range(1, rows + 1)}
    begin = start(dial, middle, curve, generator.uniform(0.7, 1.3))
    return SimulatedPlanter(dial, middle, curve, drawn, begin, noise, shape)


def _curve(generator: Generator, reach: float, power: float, shape: OutputCurve) -> Curve:
    if shape is OutputCurve.KINKED:
        kink = math.exp(generator.uniform(-math.log(2), math.log(2)))
        return Curve(reach, power, kink_at=generator.uniform(-0.2, 0.2) * reach, kink=kink)
    if shape is OutputCurve.DEAD_ZONE:
        return Curve(reach, power, dead_at=generator.uniform(-0.2, 0.2) * reach, dead=generator.uniform(2, 3))
    return Curve(reach, power)


def _row(generator: Generator) -> Row:
    faulty = generator.random() < FAULTY
    fault = (
        RowFault(generator.choice([RowFault.STOPPED, RowFault.UNREPEATABLE, RowFault.STUCK]))
        if faulty
        else RowFault.NONE
    )
    return Row(generator.normal(0, 0.05), generator.normal(0, 0.1), fault)


def start(dial: Dial, middle: float, curve: Response, wanted: float) -> Setting:
    """The notch at which an average row gives nearest to a wanted share of the target."""
    notches = np.arange(dial.notches)
    off = [abs(curve.log_output(notch - middle) - math.log(wanted)) for notch in notches]
    return dial.setting(dial.low + int(np.argmin(off)) * dial.step)


def marks(count: int) -> tuple[str, ...]:
    """A, A+, B, B+, ... then AA, AA+, ..."""
    letters = [chr(ord("A") + n) for n in range(26)]
    names = [*letters, *(first + second for first in letters for second in letters)]
    return tuple(name + plus for name in names[: count // 2 + 1] for plus in ("", "+"))[: count + 1]
