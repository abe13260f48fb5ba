"""The target: what one outlet should give over the course."""

from __future__ import annotations

from engine.calculations.catalogue import formula
from engine.calculations.domain import expressed, positive
from engine.calculations.kinds import Density, Length, Mass, Rate, RowRate, Volume
from engine.calculations.rate import rate_along_row


@formula("target-catch", sources=("ROW-IDENTITIES", "RATE-CALC", "MO-G1273"))
def target_catch(rate: Rate, spacing: Length, course: Length) -> Mass:
    """Mass that one row should give over the course, m = R s L, or m = r L for a rate along the row [g, oz].

    ``rate`` R [lb/acre, kg/ha] or r [oz/1000 ft, g/100 m]; ``spacing`` s [in, cm] is the width one outlet serves and
    does not matter for a rate along the row; ``course`` L [ft, m]. oz = lb/acre x in x ft / 32 670.
    Valid: all above zero. Errors: OutOfDomain. Sources: ROW-IDENTITIES, RATE-CALC, MO-G1273.
    """
    return catch_along(rate_along_row(rate, spacing), course)


def catch_along(rate: RowRate, course: Length) -> Mass:
    """Mass over a course at a rate along the row, m = r L [g]. OutOfDomain unless both are above zero."""
    return expressed(positive("rate", rate) * positive("course", course), "g")


@formula("target-volume", sources=("DENSITY-IDENTITY", "ASTM-E727"))
def target_volume(catch: Mass, density: Density) -> Volume:
    """Volume that a catch fills in a measuring tube, V = m / d [mL, fl oz].

    ``density`` d [g/mL, lb/ft3] is the settled (tapped) bulk density of this product, found as the tube is read.
    Valid: both above zero. Errors: OutOfDomain. Sources: DENSITY-IDENTITY, ASTM-E727.
    """
    return expressed(positive("catch", catch) / positive("density", density), "mL")
