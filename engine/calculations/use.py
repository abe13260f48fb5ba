"""Use of each hopper against expectation: which row feeds too little, and how sure that is, before the eye sees it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.distribution import log_normal_share
from engine.calculations.domain import counted, expressed, not_negative, number, part, positive, share
from engine.calculations.kinds import Area, Length, Mass, PerRow, Rate, Ratio
from engine.calculations.rate import area_rate
from engine.errors import OutOfDomain
from engine.quantities import quantity

EYE = quantity(7, "%")
"""Share of a full hopper by which a level must stand above the others before the eye sees it (common practice, no
source)."""
SURELY_SEEN = quantity(9, "%")
"""The same for an eye that misjudges a level by 1 %, two standard deviations on the safe side (common practice, no
source): what a look proves is reckoned with this."""
SPREAD = quantity(3, "%")
"""Standard deviation of rows that were brought in by catches (own decision, inside the tolerance of 5 %)."""
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


@formula("row-use", sources=("UNDER-FEED", "TRADE"))
def row_use(
    used: PerRow[Mass], expected: Mass, reading: Mass, spread: Ratio = SPREAD, rate_doubt: Ratio = RATE_DOUBT
) -> RowUse:
    """Probability that each row under-feeds, from what every hopper used against ``expected`` m [lb, kg].

    x = used / m - 1 is normal with covariance v I + t^2 11', v = spread^2 + (reading / m)^2, t = ``rate_doubt`` [%],
    which all rows share. A row that under-feeds has s less, s from 10 to 100 % alike, beside rows that feed:
    LR = mean over s of exp(-s b - s^2 a / 2), b and a its entries of S^-1 x and of the diagonal of S^-1;
    P = p LR / (1 - p + p LR), p = 3 %. ``reading`` [lb, kg] is the standard deviation of one row's use from scale and
    level. Named from 50 % on; ``delivered`` is the likeliest row's use over that of the others.
    Valid: three rows or more, each zero or above, reading and rate_doubt zero or above, the rest above zero. Errors:
    OutOfDomain. Sources: UNDER-FEED, TRADE.
    """
    if len(used) < 3:
        raise OutOfDomain("rows", len(used), "use is compared among at least three")
    one = float(expressed(positive("expected", expected), "kg").magnitude)
    shares = {row: float(expressed(not_negative(f"row {row}", m), "kg").magnitude) / one for row, m in used.items()}
    own = (
        number(share("spread", spread)) ** 2
        + (float(expressed(not_negative("reading", reading), "kg").magnitude) / one) ** 2
    )
    odds = _log_ratios(shares, own, number(part("rate_doubt", rate_doubt)) ** 2)
    chances = {row: _chance(log_ratio) for row, log_ratio in odds.items()}
    worst = min(odds, key=lambda row: (-odds[row], row))
    return RowUse(
        "under_feeds" if chances[worst] >= NAMED else "alike",
        {row: quantity(chance, "1") for row, chance in chances.items()},
        worst,
        quantity(chances[worst], "1"),
        quantity(_delivered(shares, worst), "1"),
    )


def use_doubt(full: Mass, refills: int = 1) -> Mass:
    """Standard deviation of what one hopper used over so many refills, M sqrt(k (e^2 + 2 p^2)) [kg].

    ``full`` M [lb, kg] is a full hopper, ``refills`` k, READING e and POUR p shares of it: one reading and two
    fills up to a mark each time. Valid: full above zero, refills at least 1. Errors: OutOfDomain.
    """
    share_of_full = math.sqrt(counted("refills", refills) * (READING**2 + 2 * POUR**2))
    return expressed(positive("full", full) * share_of_full, "kg")


def _log_ratios(shares: dict[int, float], own: float, common: float) -> dict[int, float]:
    """ln LR of each row, S inverted by the Sherman-Morrison identity."""
    count = len(shares)
    shrink = common / (own + count * common)
    total = sum(one - 1 for one in shares.values())
    precision = (1 - shrink) / own
    return {row: _log_mean((one - 1 - shrink * total) / own, precision) for row, one in shares.items()}


def _log_mean(slope: float, precision: float) -> float:
    """ln of the mean of exp(-s slope - s^2 precision / 2) over s from LEAST to MOST."""
    root, centre = math.sqrt(precision), -slope / precision
    low, high = root * (LEAST - centre), root * (MOST - centre)
    if low > 0:
        low, high = -high, -low
    upper, lower = log_normal_share(high), log_normal_share(low)
    inside = upper + math.log(-math.expm1(lower - upper))
    return slope**2 / precision / 2 + math.log(2 * math.pi / precision) / 2 + inside - math.log(MOST - LEAST)


def _chance(log_ratio: float) -> float:
    """P from ln LR and the prior, without overflow."""
    log_odds = log_ratio + math.log(PRIOR / (1 - PRIOR))
    return 1 / (1 + math.exp(-log_odds)) if log_odds > -700 else 0.0


def _delivered(shares: dict[int, float], row: int) -> float:
    others = [one for other, one in shares.items() if other != row]
    middle = sum(others) / len(others)
    return shares[row] / middle if middle else 1.0
