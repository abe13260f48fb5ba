"""Uniformity: how alike the rows are among themselves, whatever the target."""

from __future__ import annotations

import statistics
from dataclasses import dataclass

from engine.calculations.catalogue import formula
from engine.calculations.domain import expressed, not_negative, positive
from engine.calculations.kinds import Mass, PerRow, Ratio
from engine.errors import OutOfDomain
from engine.quantities import quantity


@dataclass(frozen=True)
class Spread:
    """Mean and highest less lowest [g], coefficient of variation, each row's deviation from the mean, the worst row."""

    mean: Mass
    cv: Ratio
    deviations: PerRow[Ratio]
    range: Mass
    worst: int


@formula("spread", sources=("CV-CALC", "NE-1982"))
def spread(caught: PerRow[Mass]) -> Spread:
    """Spread of the rows: mean m, cv = s / m with s over n - 1, deviation = catch / m - 1, range = highest - lowest.

    The worst row is the one farthest from the mean, the lower number of two equal ones.
    Valid: two rows or more, every catch zero or above [g, oz], not all zero. Errors: OutOfDomain.
    Sources: CV-CALC, NE-1982.
    """
    if len(caught) < 2:
        raise OutOfDomain("rows", len(caught), "the spread needs at least two")
    grams = {row: float(expressed(not_negative(f"row {row}", one), "g").magnitude) for row, one in caught.items()}
    mean = statistics.fmean(grams.values())
    positive("mean", quantity(mean, "g"))
    deviations = {row: one / mean - 1 for row, one in grams.items()}
    return Spread(
        mean=quantity(mean, "g"),
        cv=quantity(statistics.stdev(grams.values()) / mean, "1"),
        deviations={row: quantity(one, "1") for row, one in deviations.items()},
        range=quantity(max(grams.values()) - min(grams.values()), "g"),
        worst=min(deviations, key=lambda row: (-abs(deviations[row]), row)),
    )
