"""What is left when planting is over: what the books say, and what was weighed when it was put away."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import expressed, not_negative, number
from engine.calculations.hoppers.use import RATE_DOUBT, READING
from engine.calculations.kinds import Mass, PerRow
from engine.quantities import magnitude, quantity

DEVIATIONS = 2
"""Standard deviations by which weighed and booked may differ (common practice, no source)."""


@dataclass(frozen=True)
class LeftOver:
    """What all hoppers hold together, and its standard deviation."""

    total: Mass
    doubt: Mass


@dataclass(frozen=True)
class LeftoverCheck:
    """Whether what went back agrees with the books, and by how much it does not."""

    outcome: Literal["agrees", "less", "more", "not_weighed"]
    difference: Mass


@formula("left-over", sources=("DRAW-CALC", "TRADE"))
def left_over(contents: PerRow[Mass], full: PerRow[Mass], reckoned: PerRow[Mass]) -> LeftOver:
    """What is left in all hoppers, M = sum m, and its deviation, sqrt(e^2 sum f^2 + (t sum u)^2) [lb, kg].

    ``contents`` m of each row, ``full`` f what its hopper was filled with last, ``reckoned`` u what it should have used
    since it was last looked at, each zero or above [lb, kg]; e = 2 % of a full hopper is the deviation of a reading,
    t = 5 % that of rate and area, which all rows share. Rows that lack ``full`` or ``reckoned`` add no doubt.
    Errors: OutOfDomain. Sources: DRAW-CALC, TRADE.
    """
    total = sum(_pounds("contents", contents).values())
    readings = math.sqrt(sum(one**2 for one in _pounds("full", full).values())) * READING
    shared = sum(_pounds("reckoned", reckoned).values()) * number(RATE_DOUBT)
    return LeftOver(quantity(total, "lb"), quantity(math.hypot(readings, shared), "lb"))


@formula("put-away-check", sources=("TRADE",))
def put_away_check(booked: Mass, doubt: Mass, put_back: Mass | None = None) -> LeftoverCheck:
    """Whether what was weighed when it went back is what the books say, |put_back - booked| <= 2 doubt [lb, kg].

    Valid: each zero or above. Errors: OutOfDomain. Source: TRADE.
    """
    least, books = not_negative("doubt", doubt) * DEVIATIONS, not_negative("booked", booked)
    if put_back is None:
        return LeftoverCheck("not_weighed", expressed(0 * books, "kg"))
    gap = expressed(not_negative("put_back", put_back) - books, "kg")
    lacks = bool(gap < 0 * gap)
    difference = expressed(-gap if lacks else gap, "kg")
    return LeftoverCheck("agrees" if difference <= least else "less" if lacks else "more", difference)


def _pounds(name: str, masses: PerRow[Mass]) -> dict[int, float]:
    return {row: magnitude(not_negative(f"{name} {row}", m), "lb") for row, m in masses.items()}
