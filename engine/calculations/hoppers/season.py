"""The season: what all passes together put on a field, against the label's total."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import at_most, expressed, not_negative, number, positive
from engine.calculations.kinds import AreaRate, Length, Rate
from engine.calculations.rate import area_rate


@dataclass(frozen=True)
class SeasonCheck:
    """The total with the planned pass, and what the label leaves for it: nothing is zero, never below."""

    outcome: Literal["within", "above"]
    total: AreaRate
    allowed: AreaRate


@formula("season-check", sources=("LABEL-LAW", "ROW-IDENTITIES"))
def season_check(earlier: AreaRate, planned: Rate, season_limit: Rate, spacing: Length) -> SeasonCheck:
    """Earlier rate on this field this season plus the planned pass against the season limit: total = earlier + planned.

    Rates [lb/acre, kg/ha] or, planned and limit, along the row [oz/1000 ft, g/100 m]; ``spacing`` [in, cm]. Exactly the
    limit is within. What the label and the local law say decides.
    Valid: earlier zero or above, the rest above zero. Errors: OutOfDomain. Sources: LABEL-LAW, ROW-IDENTITIES.
    """
    before = expressed(not_negative("earlier", earlier), "kg/ha")
    limit = area_rate(positive("season_limit", season_limit), spacing)
    total = before + area_rate(positive("planned", planned), spacing)
    left = max(limit - before, 0 * limit)
    return SeasonCheck("within" if at_most(number(total / limit), 1) else "above", total, left)
