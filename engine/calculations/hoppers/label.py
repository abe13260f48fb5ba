"""The label: the lowest and highest rate the law allows for a product, and its total in a season.

The label itself and the local law decide; these formulas only compare with the numbers that were entered from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import at_most, expressed, not_negative, number, positive, shown
from engine.calculations.kinds import AreaRate, Length, PerRow, Rate
from engine.calculations.rate import area_rate
from engine.errors import OutOfDomain


@dataclass(frozen=True)
class LabelCheck:
    """Where a rate lies against the label, and the rate per area that was compared."""

    outcome: Literal["within", "below", "above"]
    rate: AreaRate


@formula("label-order", sources=("LABEL-LAW",))
def label_order(label_low: Rate, label_high: Rate) -> Literal["fine", "upside_down", "unlike"]:
    """The same as label-range where no row spacing is known: rates of one kind only, by area or along the row.

    Rates in [lb/acre, kg/ha, oz/1000 ft, g/100 m]. ``unlike`` where one is by area and the other along the row.
    Valid: all above zero. Errors: OutOfDomain. Source: LABEL-LAW.
    """
    low, high = positive("label_low", label_low), positive("label_high", label_high)
    if not low.is_compatible_with(high):
        return "unlike"
    return "fine" if at_most(number(low / high), 1) else "upside_down"


@formula("label-check", sources=("LABEL-LAW", "ROW-IDENTITIES"))
def label_check(rate: Rate, label_low: Rate, label_high: Rate, spacing: Length) -> LabelCheck:
    """Compare a rate with the label, low <= R <= high, both ends allowed; rates along the row are turned per area.

    Rates in [lb/acre, kg/ha, oz/1000 ft, g/100 m], ``spacing`` [in, cm]. Result ``rate`` [kg/ha].
    Valid: all above zero, label_low not above label_high. Errors: OutOfDomain. Sources: LABEL-LAW, ROW-IDENTITIES.
    """
    if label_range(label_low, label_high, spacing) == "upside_down":
        raise OutOfDomain("label_low", shown(label_low), f"it is above the highest label rate, {shown(label_high)}")
    wanted, low, high = (area_rate(one, spacing) for one in (rate, label_low, label_high))
    if not at_most(number(low / wanted), 1):
        return LabelCheck("below", wanted)
    return LabelCheck("within" if at_most(number(wanted / high), 1) else "above", wanted)


Over = Literal["over"]


@formula("label-rows", sources=("LABEL-LAW", "ROW-IDENTITIES"))
def label_rows(
    rates: PerRow[Rate], spacing: Length, label_low: Rate | None = None, label_high: Rate | None = None
) -> PerRow[Over]:
    """The rows whose rate is over the label's highest, R > high; none where the label is not known.

    ``rates`` of each row and the label's in [lb/acre, kg/ha, oz/1000 ft, g/100 m], ``spacing`` [in, cm]. A row that
    gave nothing is left out. Valid: as in label-check. Errors: OutOfDomain. Sources: LABEL-LAW, ROW-IDENTITIES.
    """
    if label_low is None or label_high is None:
        return {}
    given = {row: rate for row, rate in rates.items() if rate.magnitude > 0}
    outcomes = {row: label_check(rate, label_low, label_high, spacing).outcome for row, rate in given.items()}
    return {row: "over" for row, outcome in outcomes.items() if outcome == "above"}


@formula("label-range", sources=("LABEL-LAW", "ROW-IDENTITIES"))
def label_range(label_low: Rate, label_high: Rate, spacing: Length) -> Literal["fine", "upside_down"]:
    """Whether the lowest label rate is no higher than the highest; equal rates are a label with a single rate.

    Rates in [lb/acre, kg/ha, oz/1000 ft, g/100 m], ``spacing`` [in, cm].
    Valid: all above zero. Errors: OutOfDomain. Sources: LABEL-LAW, ROW-IDENTITIES.
    """
    low = area_rate(positive("label_low", label_low), spacing)
    high = area_rate(positive("label_high", label_high), spacing)
    return "fine" if at_most(number(low / high), 1) else "upside_down"


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
