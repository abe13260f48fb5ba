"""Quantities of the trade: a closed set of units, their dimensions, and the value that crosses doors.

Inside a formula a quantity is pint's; in a fact, a reply or a file it is a ``Measure``: a number and one of the unit
symbols of ``dialogs/units.yaml``. Nothing a person says or types is ever parsed by pint: ``read_measure`` knows only
these symbols.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, TypeAlias

import pint
from pydantic import AfterValidator

from engine.data.units import Dimension as Dimension
from engine.data.units import Unit, unit_table
from engine.errors import UnreadableQuantity, WrongDimension
from engine.frozen_model import FrozenModel

Quantity: TypeAlias = pint.Quantity[Any]


class _Units(Mapping[str, Unit]):
    """The table by symbol, in its order; read when it is first asked."""

    def __getitem__(self, symbol: str) -> Unit:
        return unit_table().units[symbol]

    def __iter__(self) -> Iterator[str]:
        return iter(unit_table().units)

    def __len__(self) -> int:
        return len(unit_table().units)


UNITS: Mapping[str, Unit] = _Units()


def registry() -> pint.UnitRegistry[Any]:
    """Our own pint registry, made only from the table of units."""
    return unit_table().registry


def unit_called(text: str) -> Unit | None:
    """The unit with this symbol or spelling, upper or lower case; None where there is none."""
    clean = " ".join(text.split())
    return UNITS.get(clean) or unit_table().spelt.get(clean.lower())


def _known(symbol: str) -> str:
    if symbol not in UNITS:
        raise ValueError(f"{symbol!r} is not a unit Rowhand knows")
    return symbol


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError("a measure is a finite number")
    return value


class Measure(FrozenModel):
    """A number and a unit symbol: how a quantity crosses a door, and how it is stored."""

    value: Annotated[float, AfterValidator(_finite)]
    unit: Annotated[str, AfterValidator(_known)]

    @property
    def dimension(self) -> Dimension:
        return UNITS[self.unit].dimension

    @property
    def quantity(self) -> Quantity:
        return quantity(self.value, self.unit)

    def to(self, unit: str) -> Measure:
        """The same amount in another unit; WrongDimension if it measures something else."""
        if UNITS[unit].dimension is not self.dimension:
            raise WrongDimension(unit, self.dimension)
        if unit == self.unit:
            return self
        sizes = unit_table().sizes
        return Measure(value=self.value * sizes[self.unit] / sizes[unit], unit=unit)

    def __str__(self) -> str:
        return f"{self.value:.6g} {self.unit}"


def quantity(value: float, unit: str) -> Quantity:
    """A pint quantity from a number and one of our unit symbols."""
    table = unit_table()
    return table.registry.Quantity(value, table.parsed[unit])


def magnitude(amount: Quantity, unit: str) -> float:
    """How many of one of our units an amount is; pint.DimensionalityError where it measures something else."""
    return float(amount.magnitude * unit_table().factor(amount.units, unit))


def measure(amount: Quantity, unit: str) -> Measure:
    """A pint quantity as a Measure in ``unit``; WrongDimension if it is of another kind."""
    try:
        return Measure(value=magnitude(amount, unit), unit=unit)
    except pint.DimensionalityError as error:
        raise WrongDimension(str(amount.units), UNITS[unit].dimension) from error


_WRITTEN = re.compile(r"^\s*([-+]?(?:\d+(?:[.,]\d+)?|\.\d+))\s*(.*?)\s*$")


def read_measure(text: str, *dimensions: Dimension) -> Measure:
    """Read "8.712 lb/acre": a plain decimal number and one of our units.

    Raises UnreadableQuantity when it is not that, WrongDimension when the unit measures something else.
    """
    match = _WRITTEN.match(text)
    if match is None:
        raise UnreadableQuantity(text)
    unit = unit_called(match[2])
    if unit is None:
        raise UnreadableQuantity(text, f"{match[2]!r} is not a unit I know" if match[2] else "the unit is missing")
    if dimensions and unit.dimension not in dimensions:
        raise WrongDimension(unit.symbol, " or ".join(dimensions))
    if re.search(r",\d{3}$", match[1]):
        raise UnreadableQuantity(text, "a comma before three digits can mean thousands or a decimal; use a point")
    return Measure(value=float(match[1].replace(",", ".")), unit=unit.symbol)
