"""The target: what one outlet should give over the course."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import at_least_one, expressed, positive
from engine.calculations.kinds import Density, Length, Mass, Rate, RowRate, Volume
from engine.calculations.rate import rate_along_row


@formula("target-catch", sources=("ROW-IDENTITIES", "RATE-CALC", "MO-G1273"))
def target_catch(rate: Rate, spacing: Length, course: Length, passes: int | None = None) -> Mass:
    """Mass that one row should give over the course, m = R s L, or m = r L for a rate along the row [g, oz].

    As many times that where several ``passes`` over the course go into one container; one where none is said.

    ``rate`` R [lb/acre, kg/ha] or r [oz/1000 ft, g/100 m]; ``spacing`` s [in, cm] is the width one outlet serves and
    does not matter for a rate along the row; ``course`` L [ft, m]. oz = lb/acre x in x ft / 32 670.
    Valid: all above zero. Errors: OutOfDomain. Sources: ROW-IDENTITIES, RATE-CALC, MO-G1273.
    """
    return catch_along(rate_along_row(rate, spacing), over_passes(course, passes))


def over_passes(course: Length, passes: int | None) -> Length:
    """The length of row behind a catch: the course as often as it was driven into one container.

    Raises OutOfDomain unless ``passes`` is 1 or more; None is one.
    """
    found: Length = positive("course", course) * (1 if passes is None else at_least_one("passes", passes))
    return found


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


@dataclass(frozen=True)
class TubeTarget:
    """What a catch reads in a measuring tube; by_weight = no density is known, there is no ``volume``."""

    outcome: Literal["in_tube", "by_weight"]
    volume: Volume | None


@formula("tube-target", sources=("DENSITY-IDENTITY", "ASTM-E727"), without={"by_weight": ("volume",)})
def tube_target(catch: Mass, density: Density | None = None) -> TubeTarget:
    """Volume of a catch as in target-volume, where the density is known [mL, fl oz].

    ``catch`` [g, oz], ``density`` [g/mL, lb/ft3]. Valid: both above zero. Errors: OutOfDomain.
    Sources: DENSITY-IDENTITY, ASTM-E727.
    """
    if density is None:
        return TubeTarget("by_weight", None)
    return TubeTarget("in_tube", target_volume(catch, density))
