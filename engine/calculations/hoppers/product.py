"""Product: how much a field needs, and how much of it is active ingredient."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import counted, expressed, positive, share, whole
from engine.calculations.kinds import Area, Length, Mass, Rate, Ratio
from engine.calculations.rate import area_rate, is_per_area


@dataclass(frozen=True)
class ProductNeeded:
    """Product for a field in all, and for each of the hoppers."""

    total: Mass
    per_hopper: Mass


@formula("product-needed", sources=("DRAW-CALC", "ROW-IDENTITIES"))
def product_needed(rate: Rate, spacing: Length, area: Area, rows: int) -> ProductNeeded:
    """Product for an area, M = R A, and for each of as many hoppers as rows, M / rows [lb, kg].

    ``rate`` [lb/acre, kg/ha, oz/1000 ft, g/100 m], ``spacing`` [in, cm], ``area`` A [acre, ha].
    Valid: all above zero, rows at least 1. Errors: OutOfDomain. Sources: DRAW-CALC, ROW-IDENTITIES.
    """
    total = expressed(area_rate(rate, spacing) * positive("area", area), "kg")
    return ProductNeeded(total, total / counted("rows", rows))


@formula("bags-mass", sources=("TRADE",))
def bags_mass(bags: int, bag: Mass) -> Mass:
    """What so many bags hold together, M = n m [lb, kg].

    ``bag`` m is what one full bag holds, as printed on it, above zero [lb, kg]; bags n at least 1. Errors: OutOfDomain.
    Source: TRADE.
    """
    return expressed(counted("bags", bags) * positive("bag", bag), "kg")


@dataclass(frozen=True)
class FieldNeed:
    """Product for a field, and the bags to open for it, the last one perhaps in part."""

    outcome: Literal["in_bags", "by_weight", "unknown"]
    total: Mass | None = None
    bags: int | None = None


@formula(
    "field-need",
    sources=("DRAW-CALC", "ROW-IDENTITIES"),
    without={"in_bags": (), "by_weight": ("bags",), "unknown": ("total", "bags")},
)
def field_need(rate: Rate, spacing: Length, area: Area | None = None, bag: Mass | None = None) -> FieldNeed:
    """Product for a field, M = R A [lb, kg], and as many bags as hold it, M / bag rounded up.

    ``rate`` R [lb/acre, kg/ha, oz/1000 ft, g/100 m], ``spacing`` [in, cm], ``area`` A [acre, ha], ``bag`` [lb, kg].
    Nothing is added to spare (own decision): what is opened and not used has to go back and be kept.
    Valid: all above zero. Errors: OutOfDomain. Sources: DRAW-CALC, ROW-IDENTITIES.
    """
    if area is None:
        return FieldNeed("unknown")
    total = expressed(area_rate(rate, spacing) * positive("area", area), "kg")
    if bag is None:
        return FieldNeed("by_weight", total)
    bags = total.magnitude / expressed(positive("bag", bag), "kg").magnitude
    return FieldNeed("in_bags", total, whole(bags))


@formula("active-ingredient", sources=("IL-1997", "MD0173"))
def active_ingredient(rate: Rate, fraction: Ratio) -> Rate:
    """Rate of active ingredient in a rate of product, a = R x fraction [lb/acre, oz/1000 ft, kg/ha, g/100 m].

    ``fraction`` [%] as the label prints it, above 0 and up to 100 %; rate above zero. Errors: OutOfDomain.
    Sources: IL-1997, MD0173.
    """
    return _of_kind(positive("rate", rate) * share("fraction", fraction))


@formula("product-rate", sources=("IL-1997", "MD0173"))
def product_rate(active: Rate, fraction: Ratio) -> Rate:
    """Rate of product that carries a rate of active ingredient, R = a / fraction [lb/acre, oz/1000 ft, kg/ha, g/100 m].

    ``fraction`` [%] as the label prints it, above 0 and up to 100 %; active above zero. Errors: OutOfDomain.
    Sources: IL-1997, MD0173.
    """
    return _of_kind(positive("active", active) / share("fraction", fraction))


def _of_kind(rate: Rate) -> Rate:
    return expressed(rate, "kg/ha" if is_per_area(rate) else "g/100 m")
