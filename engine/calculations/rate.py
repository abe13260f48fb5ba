"""Rates: product on an area or along a row, and the change from one to the other."""

from __future__ import annotations

from functools import cache

from pint.facets.plain import PlainUnit

from engine.calculations.catalogue import formula
from engine.calculations.domain import expressed, not_negative, positive
from engine.calculations.kinds import AreaRate, Length, Mass, Rate, RowRate


def is_per_area(rate: Rate) -> bool:
    """Whether a rate is mass on an area; else it is mass along a row."""
    return _is_per_area(rate.units)


@cache
def _is_per_area(unit: PlainUnit) -> bool:
    return bool(unit.is_compatible_with("kilogram / hectare"))


@formula("area-rate", sources=("ROW-IDENTITIES",))
def area_rate(rate: Rate, spacing: Length) -> AreaRate:
    """Rate on the area, R = r / s, for a rate r along the row [oz/1000 ft, g/100 m] and rows s [in, cm] apart.

    A rate that is per area already comes back in kg/ha unchanged. lb/acre = 32.67 x (oz/1000 ft) / in.
    Valid: rate and spacing above zero. Errors: OutOfDomain. Source: ROW-IDENTITIES.
    """
    positive("rate", rate)
    positive("spacing", spacing)
    return expressed(rate if is_per_area(rate) else rate / spacing, "kg/ha")


@formula("rate-along-row", sources=("ROW-IDENTITIES",))
def rate_along_row(rate: Rate, spacing: Length) -> RowRate:
    """Rate along one row, r = R x s, for a rate R on the area [lb/acre, kg/ha] and rows s [in, cm] apart.

    A rate that is along the row already comes back in g/100 m unchanged.
    Valid: rate and spacing above zero. Errors: OutOfDomain. Source: ROW-IDENTITIES.
    """
    positive("rate", rate)
    positive("spacing", spacing)
    return expressed(rate * spacing if is_per_area(rate) else rate, "g/100 m")


@formula("applied-rate", sources=("ROW-IDENTITIES", "PES-BAND", "RATE-CALC"))
def applied_rate(caught: Mass, spacing: Length, course: Length) -> AreaRate:
    """Rate that one outlet applied, R = m / (s L) [kg/ha, lb/acre].

    ``caught`` m [g, oz] is net of its container; ``spacing`` s [m, in] is the width one outlet serves; ``course``
    L [m, ft] is what was driven. kg/ha = 10 g / (m m); lb/acre = 32 670 oz / (in ft).
    Valid: caught zero or above (a stopped row applied nothing), spacing and course above zero. Errors: OutOfDomain.
    Sources: ROW-IDENTITIES, PES-BAND, RATE-CALC.
    """
    not_negative("caught", caught)
    return expressed(caught / (positive("spacing", spacing) * positive("course", course)), "kg/ha")


@formula("row-rate", sources=("ROW-IDENTITIES", "PES-BAND"))
def row_rate(caught: Mass, course: Length) -> RowRate:
    """Rate along the row that one outlet applied, r = m / L [g/100 m, oz/1000 ft].

    Valid: caught zero or above, course above zero. Errors: OutOfDomain. Sources: ROW-IDENTITIES, PES-BAND.
    """
    not_negative("caught", caught)
    return expressed(caught / positive("course", course), "g/100 m")
