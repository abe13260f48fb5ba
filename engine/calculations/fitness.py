"""Ready or not: what was found at each row before the planter is set up."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.kinds import PerRow
from engine.errors import InputError


class Condition(StrEnum):
    """A row as somebody found it: fit, or the first thing that is wrong with it."""

    FIT = "fit"
    HOSE = "hose"
    CHAIN = "chain"
    HOPPER = "hopper"
    METER = "meter"
    LOOSE = "loose"


@dataclass(frozen=True)
class Fitness:
    """Whether every row is fit, and the rows that are: those that need no second look."""

    outcome: Literal["fit", "unfit"]
    fit: PerRow[Condition]


@formula("row-fitness", sources=("TRADE",))
def row_fitness(found: PerRow[Condition]) -> Fitness:
    """Whether the planter is ready, each row by what was ``found`` at it.

    Valid: at least one row. Errors: InputError for none. Source: TRADE.
    """
    if not found:
        raise InputError("no row was looked at")
    fit = {row: Condition.FIT for row, one in found.items() if Condition(one) is Condition.FIT}
    return Fitness("fit" if len(fit) == len(found) else "unfit", fit)
