"""Quantities of the trade: a closed set of units, their dimensions, and the value that crosses doors.

Inside a formula a quantity is pint's; in a fact, a reply or a file it is a ``Measure``: a number and one of the
unit symbols below. Nothing a person says or types is ever parsed by pint: ``read_measure`` knows only these symbols.
"""

from __future__ import annotations

import math
import re
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Annotated, Any, NamedTuple, TypeAlias

import pint
from pydantic import AfterValidator, BaseModel, ConfigDict

from engine.errors import UnreadableQuantity, WrongDimension

Quantity: TypeAlias = pint.Quantity[Any]


class Dimension(StrEnum):
    """The kinds of quantity Rowhand works with."""

    MASS = "mass"
    VOLUME = "volume"
    LENGTH = "length"
    AREA = "area"
    TIME = "time"
    SPEED = "speed"
    DENSITY = "density"
    AREA_RATE = "area_rate"
    ROW_RATE = "row_rate"
    WORK_RATE = "work_rate"
    RATIO = "ratio"


class Unit(NamedTuple):
    """One unit symbol: how pint writes it, what it measures, and other spellings a person may type."""

    symbol: str
    pint: str
    dimension: Dimension
    spellings: tuple[str, ...] = ()


_UNITS = (
    Unit("lb", "pound", Dimension.MASS, ("lbs", "pound", "pounds", "libra", "libras")),
    Unit("oz", "ounce", Dimension.MASS, ("ounce", "ounces", "onza", "onzas")),
    Unit("g", "gram", Dimension.MASS, ("gram", "grams", "gramo", "gramos", "gr")),
    Unit("kg", "kilogram", Dimension.MASS, ("kilo", "kilos", "kilogram", "kilograms", "kilogramo", "kilogramos")),
    Unit("mL", "milliliter", Dimension.VOLUME, ("ml", "cc", "milliliter", "milliliters")),
    Unit("L", "liter", Dimension.VOLUME, ("l", "liter", "liters", "litre", "litres")),
    Unit("fl oz", "fluid_ounce", Dimension.VOLUME, ("floz", "fluid ounce", "fluid ounces", "fl. oz")),
    Unit("in", "inch", Dimension.LENGTH, ('"', "inch", "inches", "pulgada", "pulgadas")),
    Unit("ft", "foot", Dimension.LENGTH, ("'", "foot", "feet", "pie", "pies")),
    Unit("yd", "yard", Dimension.LENGTH, ("yard", "yards")),
    Unit("mi", "mile", Dimension.LENGTH, ("mile", "miles", "milla", "millas")),
    Unit("mm", "millimeter", Dimension.LENGTH, ()),
    Unit("cm", "centimeter", Dimension.LENGTH, ()),
    Unit("m", "meter", Dimension.LENGTH, ("meter", "meters", "metre", "metres", "metro", "metros")),
    Unit("km", "kilometer", Dimension.LENGTH, ()),
    Unit("acre", "acre", Dimension.AREA, ("ac", "acres")),
    Unit("ha", "hectare", Dimension.AREA, ("hectare", "hectares", "hectárea", "hectáreas")),
    Unit("ft2", "foot ** 2", Dimension.AREA, ("sq ft", "ft^2", "ft²")),
    Unit("m2", "meter ** 2", Dimension.AREA, ("sq m", "m^2", "m²")),
    Unit("s", "second", Dimension.TIME, ("sec", "secs", "second", "seconds", "segundo", "segundos")),
    Unit("min", "minute", Dimension.TIME, ("minute", "minutes", "minuto", "minutos")),
    Unit("h", "hour", Dimension.TIME, ("hr", "hrs", "hour", "hours", "hora", "horas")),
    Unit("mph", "mile / hour", Dimension.SPEED, ("mi/h", "miles per hour", "miles an hour")),
    Unit("km/h", "kilometer / hour", Dimension.SPEED, ("kph", "kmh", "kmph")),
    Unit("ft/s", "foot / second", Dimension.SPEED, ("fps",)),
    Unit("m/s", "meter / second", Dimension.SPEED, ()),
    Unit("g/mL", "gram / milliliter", Dimension.DENSITY, ("g/ml", "g/cc", "g/cm3", "kg/L", "kg/l")),
    Unit("lb/ft3", "pound / foot ** 3", Dimension.DENSITY, ("lb/ft^3", "lb/ft³", "lb/cu ft")),
    Unit("kg/m3", "kilogram / meter ** 3", Dimension.DENSITY, ("kg/m^3", "kg/m³")),
    Unit("lb/acre", "pound / acre", Dimension.AREA_RATE, ("lb/ac", "lbs/acre", "lbs/ac", "lb/a")),
    Unit("oz/acre", "ounce / acre", Dimension.AREA_RATE, ("oz/ac",)),
    Unit("kg/ha", "kilogram / hectare", Dimension.AREA_RATE, ()),
    Unit("g/ha", "gram / hectare", Dimension.AREA_RATE, ()),
    Unit("oz/1000 ft", "ounce_per_thousand_feet", Dimension.ROW_RATE, ("oz/1000ft", "oz per 1000 ft")),
    Unit("g/100 m", "gram_per_hundred_meters", Dimension.ROW_RATE, ("g/100m", "g per 100 m")),
    Unit("acre/h", "acre / hour", Dimension.WORK_RATE, ("ac/h", "ac/hr", "acres/h", "acres/hour", "acre/hour")),
    Unit("ha/h", "hectare / hour", Dimension.WORK_RATE, ("ha/hr",)),
    Unit("%", "percent", Dimension.RATIO, ("percent", "pct", "por ciento")),
    Unit("1", "dimensionless", Dimension.RATIO, ()),
)

UNITS: dict[str, Unit] = {unit.symbol: unit for unit in _UNITS}
_SPELLINGS: dict[str, Unit] = {spelling.lower(): unit for unit in _UNITS for spelling in (*unit.spellings, unit.symbol)}


@cache
def registry() -> pint.UnitRegistry[Any]:
    """Our own pint registry, made only from ``units.txt``."""
    lines = files("engine").joinpath("units.txt").read_text(encoding="utf-8").splitlines()
    ureg: pint.UnitRegistry[Any] = pint.UnitRegistry(None, cache_folder=None)
    ureg.load_definitions(lines)
    return ureg


@cache
def _factor(symbol: str) -> float:
    """Size of a unit in metres, grams and seconds."""
    return float(registry().Quantity(1.0, UNITS[symbol].pint).to_base_units().magnitude)


def unit_called(text: str) -> Unit | None:
    """The unit with this symbol or spelling, upper or lower case; None where there is none."""
    clean = " ".join(text.split())
    return UNITS.get(clean) or _SPELLINGS.get(clean.lower())


def _known(symbol: str) -> str:
    if symbol not in UNITS:
        raise ValueError(f"{symbol!r} is not a unit Rowhand knows")
    return symbol


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError("a measure is a finite number")
    return value


class Measure(BaseModel):
    """A number and a unit symbol: how a quantity crosses a door, and how it is stored."""

    model_config = ConfigDict(frozen=True, extra="forbid")

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
        return Measure(value=self.value * _factor(self.unit) / _factor(unit), unit=unit)

    def __str__(self) -> str:
        return f"{self.value:.6g} {self.unit}"


def quantity(value: float, unit: str) -> Quantity:
    """A pint quantity from a number and one of our unit symbols."""
    return registry().Quantity(value, UNITS[unit].pint)


def measure(amount: Quantity, unit: str) -> Measure:
    """A pint quantity as a Measure in ``unit``; WrongDimension if it is of another kind."""
    try:
        return Measure(value=float(amount.to(UNITS[unit].pint).magnitude), unit=unit)
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
