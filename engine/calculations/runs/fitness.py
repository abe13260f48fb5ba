"""Ready or not: what was found at each row before the planter is set up, and whether the scale can be believed."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import at_most, expressed, not_negative, positive
from engine.calculations.kinds import Mass, PerRow
from engine.errors import InputError
from engine.quantities import quantity


class RowCondition(StrEnum):
    """A row as somebody found it: fit, or the first thing that is wrong with it."""

    FIT = "fit"
    HOSE = "hose"
    CHAIN = "chain"
    HOPPER = "hopper"
    METER = "meter"
    OUTLET = "outlet"
    LOOSE = "loose"


@dataclass(frozen=True)
class Fitness:
    """Whether every row is fit, and the rows that are: those that need no second look."""

    outcome: Literal["fit", "unfit"]
    fit: PerRow[RowCondition]


@formula("row-fitness", sources=("TRADE",))
def row_fitness(found: PerRow[RowCondition]) -> Fitness:
    """Whether the planter is ready, each row by what was ``found`` at it.

    Valid: at least one row. Errors: InputError for none. Source: TRADE.
    """
    if not found:
        raise InputError("no row was looked at")
    fit = {row: RowCondition.FIT for row, one in found.items() if RowCondition(one) is RowCondition.FIT}
    return Fitness("fit" if len(fit) == len(found) else "unfit", fit)


@dataclass(frozen=True)
class ScaleCheck:
    """Whether a scale shows what a known weight is; ``off`` is by how much it does not, zero or above."""

    outcome: Literal["agrees", "off", "no_weight", "not_shown"]
    off: Mass | None = None


@formula("scale-check", sources=("SCALE-STEP", "WEIGHING"), without={"no_weight": ("off",), "not_shown": ("off",)})
def scale_check(
    known_weight: Mass | None = None, shown: Mass | None = None, scale_step: Mass | None = None
) -> ScaleCheck:
    """Whether a scale agrees with a weight that is known, |shown - known| <= step [g, oz].

    Both its zero and its reading are rounded by up to half a step, so that a sound scale is off by one at most.
    Without a weight the outcome is ``no_weight``, with no reading or no step beside it ``not_shown``.
    Valid: known_weight and scale_step above zero, shown zero or above. Errors: OutOfDomain.
    Sources: SCALE-STEP, WEIGHING.
    """
    if known_weight is None:
        return ScaleCheck("no_weight")
    weight = expressed(positive("known_weight", known_weight), "g").magnitude
    if shown is None or scale_step is None:
        return ScaleCheck("not_shown")
    step = expressed(positive("scale_step", scale_step), "g").magnitude
    off = abs(expressed(not_negative("shown", shown), "g").magnitude - weight)
    return ScaleCheck("agrees" if at_most(off, step) else "off", quantity(off, "g"))
