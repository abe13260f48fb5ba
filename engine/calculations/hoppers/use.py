"""Use of each hopper against expectation: which row feeds too little, and how sure that is, before the eye sees it."""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass
from typing import Literal

import numpy as np

from engine.calculations.catalogue import formula
from engine.calculations.domain import counted, expressed, not_negative, number, part, positive, share
from engine.calculations.hoppers.mixture import Mixture
from engine.calculations.kinds import Area, Length, Mass, PerRow, Rate, Ratio
from engine.calculations.rate import area_rate
from engine.errors import OutOfDomain
from engine.quantities import magnitude, quantity

EYE = quantity(7, "%")
"""Share of a full hopper by which a level must stand above the others before the eye sees it (common practice, no
source)."""
SURELY_SEEN = quantity(9, "%")
"""The same for an eye that misjudges a level by 1 %, two standard deviations on the safe side (common practice, no
source): what a look proves is reckoned with this."""
SPREAD = quantity(3, "%")
"""Standard deviation of rows that were brought in by catches, before their use tells it (own decision, inside the
tolerance of 5 %; a survey of granular boxes found 4.7 % among them, NE-1982)."""
FREEDOM = 3.0
"""How many rows ``SPREAD`` counts for beside those that were measured (own decision, by ``tests.bench_row_use``)."""
RATE_DOUBT = quantity(5, "%")
"""Standard deviation of what all rows share: true rate and reported acres (own decision)."""
READING = 0.02
"""Standard deviation of what a hopper is told to hold, as a share of a full one (common practice, no source)."""
POUR = 0.01
"""Standard deviation of the mark up to which a hopper is filled, as a share of a full one (common practice, no
source)."""
PRIOR = 0.03
"""How likely a row is to under-feed before anything was weighed (own decision, from simulated nights)."""
LEAST, MOST = 0.1, 1.0
"""Shares that may be missing from a row that under-feeds, all equally likely (own decision)."""
CERTAIN = 99
"""No probability is told as more than over so many per cent (own decision)."""
UNMOVED = 3.0
"""A hopper must have gone down by so many standard deviations of a reading before it is said that it cannot have stayed
(own decision: a row that fed is then taken for one that did not in fewer than 3 of 100)."""
NAMED = 0.5
"""A row is named from this probability on (own decision, from simulated nights)."""


@dataclass(frozen=True)
class RowUse:
    """Probability of each row that it under-feeds; the likeliest row, its probability and what it delivers."""

    outcome: Literal["alike", "under_feeds"]
    probabilities: PerRow[Ratio]
    row: int
    probability: Ratio
    delivered: Ratio


@formula("expected-use", sources=("DRAW-CALC", "ROW-IDENTITIES"))
def expected_use(planted: Area, rate: Rate, spacing: Length, rows: int) -> Mass:
    """What one hopper should have used, m = R A / n [lb, kg].

    ``planted`` A [acre, ha] by the whole machine of ``rows`` n since the hopper was last known, zero or above; ``rate``
    R [lb/acre, kg/ha] or along the row; ``spacing`` [in, cm].
    Valid: rate and spacing above zero, rows at least 1. Errors: OutOfDomain. Sources: DRAW-CALC, ROW-IDENTITIES.
    """
    return expressed(area_rate(rate, spacing) * not_negative("planted", planted) / counted("rows", rows), "kg")


@formula("unseen-area", sources=("DRAW-CALC", "TRADE"))
def unseen_area(hopper: Mass, rate: Rate, spacing: Length, rows: int, eye: Ratio = EYE) -> Area:
    """Area the machine plants before a stopped row shows as a hopper that stays high, A = eye M n / R [acre, ha].

    ``hopper`` M [lb, kg] is a full one, ``eye`` the share of it that is seen [%]; ``rate`` R [lb/acre, kg/ha] or along
    the row, ``spacing`` [in, cm]. "All good" proves that a row fed until this area before the look, not until the look.
    Valid: all above zero, eye up to 100 %, rows at least 1. Errors: OutOfDomain. Sources: DRAW-CALC, TRADE.
    """
    seen = positive("hopper", hopper) * number(share("eye", eye))
    return expressed(counted("rows", rows) * seen / area_rate(rate, spacing), "ha")


@formula("fed-area", sources=("DRAW-CALC", "NORMAL-MEAN"))
def fed_area(used: PerRow[Mass], planted: Area, reading: Mass, rate: Rate, spacing: Length, rows: int) -> PerRow[Area]:
    """Area of the machine during which each row fed for certain, A = n (m - 2 e) / R, from zero to ``planted``.

    ``used`` m of every row [lb, kg] since its hopper was last known, ``reading`` e the standard deviation of that
    figure [lb, kg], ``planted`` [acre, ha] by the whole machine of ``rows`` n meanwhile. A row that stopped did so no
    earlier. Rows that were not told are left out.
    Valid: used and reading zero or above, the rest above zero, rows at least 1. Errors: OutOfDomain.
    Sources: DRAW-CALC, NORMAL-MEAN (two standard deviations).
    """
    whole, doubt = positive("planted", planted), 2 * not_negative("reading", reading)
    masses = {row: counted("rows", rows) * (not_negative(f"row {row}", one) - doubt) for row, one in used.items()}
    areas = {row: expressed(mass / area_rate(rate, spacing), "ha") for row, mass in masses.items()}
    return {row: min(max(area, 0 * area), expressed(whole, "ha")) for row, area in areas.items()}


@formula("row-use", sources=("UNDER-FEED", "NE-1982", "TRADE"))
def row_use(
    used: PerRow[Mass], expected: Mass, reading: Mass, spread: Ratio = SPREAD, rate_doubt: Ratio = RATE_DOUBT
) -> RowUse:
    """Probability that each row under-feeds, from what every hopper used against ``expected`` m [lb, kg].

    x = used / m - 1 of each row is N(c, v) with probability 1 - p where it feeds, else the mean over s of N(c - s, v),
    s from 10 to 100 % alike, p = 3 %; v = d^2 + (reading / m)^2. What all rows share, c, is Student's t with 3 degrees
    of freedom and scale ``rate_doubt`` [%], so that a rate far from the calibrated one hides no row. The scatter d of
    rows that feed is not known: d^2 is scaled inverse chi-square with 3 degrees of freedom around ``spread``^2 [%]. The
    probability is the mean over c and d as all rows together tell them, so that rows that scatter more are believed
    less. ``reading`` [lb, kg] is the standard deviation of one row's use from scale and level. Named from 50 % on;
    ``delivered`` is the likeliest row's use over the median of the others.
    Valid: three rows or more, each zero or above, reading and rate_doubt zero or above, the rest above zero. Errors:
    OutOfDomain. Sources: UNDER-FEED, NE-1982, TRADE.
    """
    if len(used) < 3:
        raise OutOfDomain("rows", len(used), "use is compared among at least three")
    one = _kilograms("expected", positive("expected", expected))
    model = Mixture(
        PRIOR,
        LEAST,
        MOST,
        number(share("spread", spread)),
        FREEDOM,
        number(part("rate_doubt", rate_doubt)),
        _kilograms("reading", reading) / one,
    )
    rows = sorted(used)
    shares = np.array([_kilograms(f"row {row}", used[row]) / one for row in rows])
    chances = dict(zip(rows, map(float, model.chances(shares - 1)), strict=True))
    worst = min(rows, key=lambda row: (-chances[row], _kilograms(f"row {row}", used[row]), row))
    return RowUse(
        "under_feeds" if chances[worst] >= NAMED else "alike",
        {row: quantity(chance, "1") for row, chance in chances.items()},
        worst,
        quantity(chances[worst], "1"),
        share_of_others(used, worst),
    )


def share_of_others(used: PerRow[Mass], row: int) -> Ratio:
    """What a row used over the median of what the others used [%]; 100 % where these used nothing.

    ``used`` [lb, kg] of two rows or more, or the rate of each [lb/acre, kg/ha]. Errors: OutOfDomain.
    """
    if row not in used or len(used) < 2:
        raise OutOfDomain("rows", len(used), "a row is compared with at least one other")
    unit = used[row].units
    others = statistics.median(float(one.to(unit).magnitude) for other, one in used.items() if other != row)
    return quantity(float(used[row].magnitude) / others if others else 1.0, "1")


@dataclass(frozen=True)
class Certainty:
    """A probability as it may be told: whole per cent, and whether the true figure lies ``over`` that."""

    percent: int
    over: bool


def certainty(probability: Ratio) -> Certainty:
    """What to tell of a probability [%]: rounded to whole per cent, and never more than "over 99 %" (own decision).

    Valid: from 0 to 100 %. Errors: OutOfDomain.
    """
    chance = 100 * number(part("probability", probability))
    return Certainty(CERTAIN, True) if chance >= CERTAIN else Certainty(min(round(chance), CERTAIN), False)


def unmoved_rows(used: PerRow[Mass], expected: PerRow[Mass], reading: Mass, times: float = UNMOVED) -> tuple[int, ...]:
    """Rows whose hopper did not go down although it must have: m <= e and M >= k e, in order.

    ``used`` m [lb, kg] of each row from its filling to the level that was told, below zero where it rose; ``expected``
    M [lb, kg] what it should have used meanwhile; ``reading`` e [lb, kg] the standard deviation of one row's use;
    ``times`` k. Only rows that stand in both are judged.
    Valid: expected zero or above, reading above zero, times at least 2. Errors: OutOfDomain.
    """
    if not times >= 2:
        raise OutOfDomain("times", times, "less than twice the error of a reading proves nothing")
    doubt = _kilograms("reading", positive("reading", reading))
    due = {row: _kilograms(f"row {row}", one) for row, one in expected.items()}
    gone = {row: magnitude(one, "kg") for row, one in used.items()}
    return tuple(row for row in sorted(gone.keys() & due.keys()) if due[row] >= times * doubt and gone[row] <= doubt)


def use_doubt(full: Mass, refills: int = 1) -> Mass:
    """Standard deviation of what one hopper used over so many refills, M sqrt(k (e^2 + 2 p^2)) [kg].

    ``full`` M [lb, kg] is a full hopper, ``refills`` k, READING e and POUR p shares of it: one reading and two
    fills up to a mark each time. Valid: full above zero, refills at least 1. Errors: OutOfDomain.
    """
    share_of_full = math.sqrt(counted("refills", refills) * (READING**2 + 2 * POUR**2))
    return expressed(positive("full", full) * share_of_full, "kg")


def _kilograms(name: str, mass: Mass) -> float:
    return magnitude(not_negative(name, mass), "kg")
