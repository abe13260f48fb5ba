"""Uniformity: how alike the rows are among themselves, whatever the target."""

from __future__ import annotations

import statistics
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import at_most, not_negative, number, positive, tolerance_of
from engine.calculations.kinds import Mass, PerRow, Ratio
from engine.errors import OutOfDomain
from engine.quantities import magnitude, quantity

ALLOWED = quantity(5, "%")
"""How far a row may be from the mean of all rows. Source: GA-2020."""

REPAIR = quantity(10, "%")
"""A row farther than this from the mean is to be repaired. Source: AR-REPAIR."""


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
    grams = {row: magnitude(not_negative(f"row {row}", one), "g") for row, one in caught.items()}
    mean = statistics.fmean(grams.values())
    positive("mean", quantity(mean, "g"))
    deviations = {row: one / mean - 1 for row, one in grams.items()}
    return Spread(
        mean=quantity(mean, "g"),
        cv=quantity(statistics.stdev(grams.values()) / mean, "1"),
        deviations={row: quantity(one, "1") for row, one in deviations.items()},
        range=quantity(max(grams.values()) - min(grams.values()), "g"),
        worst=farthest_row(deviations),
    )


def farthest_row(off: Mapping[int, float]) -> int:
    """The row farthest from zero, the lower number of two that differ only in their last digits."""
    return min(off, key=lambda row: (-round(abs(off[row]), 12), row))


@dataclass(frozen=True)
class Uniformity:
    """The rows farther from the mean than allowed, with how far; the worst row and the coefficient of variation."""

    outcome: Literal["uniform", "uneven", "repair"]
    outside: PerRow[Ratio]
    worst: int
    cv: Ratio


@formula("uniformity", sources=("GA-2020", "AR-REPAIR", "CV-CALC"))
def uniformity(caught: PerRow[Mass], allowed: Ratio = ALLOWED, repair: Ratio = REPAIR) -> Uniformity:
    """Whether each row is near enough to the mean of all: abs(catch / mean - 1) up to ``allowed``, as in ``spread``.

    Beyond ``allowed`` [%] rows are uneven, beyond ``repair`` [%] the unit is to be repaired; exactly on a limit is
    still fine. Valid: as ``spread`` [g, oz], both limits above 0 and below 100 %. Errors: OutOfDomain.
    Sources: GA-2020, AR-REPAIR, CV-CALC.
    """
    found = spread(caught)
    limit, worst = tolerance_of(allowed, "allowed"), abs(number(found.deviations[found.worst]))
    outside = {row: one for row, one in found.deviations.items() if not at_most(abs(number(one)), limit)}
    outcome: Literal["uniform", "uneven", "repair"] = "uneven" if outside else "uniform"
    if not at_most(worst, tolerance_of(repair, "repair")):
        outcome = "repair"
    return Uniformity(outcome, outside, found.worst, found.cv)
