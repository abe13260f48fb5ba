"""Amounts of the record in the units that one farm thinks in.

What both systems use (g, mL, s, %) stays as it was told; what only the other one uses is converted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import cast

from engine.calculations.rate import area_rate, rate_along_row
from engine.dialog.facts.events import Switched
from engine.facts import read_fact
from engine.history.store.journal import StoredTurn
from engine.messages import System
from engine.quantities import Dimension, Measure, measure

FOREIGN: Mapping[System, Mapping[str, str]] = {
    System.US: {
        "kg": "lb",
        "L": "fl oz",
        "mm": "in",
        "cm": "in",
        "m": "ft",
        "km": "mi",
        "ha": "acre",
        "m2": "ft2",
        "km/h": "mph",
        "m/s": "mph",
        "ft/s": "mph",
        "kg/m3": "lb/ft3",
        "ha/h": "acre/h",
        "kg/ha": "lb/acre",
        "g/ha": "oz/acre",
        "g/100 m": "oz/1000 ft",
    },
    System.METRIC: {
        "lb": "kg",
        "oz": "g",
        "fl oz": "mL",
        "in": "cm",
        "ft": "m",
        "yd": "m",
        "mi": "km",
        "acre": "ha",
        "ft2": "m2",
        "mph": "km/h",
        "ft/s": "km/h",
        "m/s": "km/h",
        "lb/ft3": "kg/m3",
        "acre/h": "ha/h",
        "lb/acre": "kg/ha",
        "oz/acre": "g/ha",
        "oz/1000 ft": "g/100 m",
    },
}
"""The unit in place of one that only the other system uses, or that nobody in the field does."""
BULK: Mapping[System, str] = {System.US: "lb", System.METRIC: "kg"}
"""For what is in hoppers and bags, in whatever unit it was reckoned."""


def held_in(turns: Iterable[StoredTurn], otherwise: System = System.US) -> System:
    """The system in which a conversation is held: the one it was switched to last, or the one it began in."""
    for turn in turns:
        for fact in (read_fact(body) for body in turn.facts if body.get("kind") == _SWITCHED):
            otherwise = cast("Switched", fact).system or otherwise
    return otherwise


_SWITCHED = Switched.model_fields["kind"].default


def local(amount: Measure, system: System) -> Measure:
    """An amount in a unit that the system uses."""
    return amount.to(FOREIGN[system].get(amount.unit, amount.unit))


def bulk(amount: Measure, system: System) -> Measure:
    """The same for what is in hoppers and bags: a mass in pounds or kilograms."""
    return amount.to(BULK[system]) if amount.dimension is Dimension.MASS else local(amount, system)


def as_wanted(rate: Measure, wanted: Measure, spacing: Measure | None) -> Measure:
    """A rate in the unit of another one, by the spacing of the rows where one is per area and one along the row.

    It stays as it is where that spacing is not known.
    """
    if rate.dimension is wanted.dimension:
        return rate.to(wanted.unit)
    if spacing is None:
        return rate
    if not rate.value:
        return Measure(value=0, unit=wanted.unit)
    turned = area_rate if wanted.dimension is Dimension.AREA_RATE else rate_along_row
    return measure(turned(rate.quantity, spacing.quantity), wanted.unit)
