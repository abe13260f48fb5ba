"""Quantities as people write them: "8 pounds per acre", "g/m", "acre/hr", a bare 0.65 for a share.

Words are brought to the closed table of ``engine.quantities``; nothing is parsed that is not in a table.
"""

from __future__ import annotations

import re

from engine.data.units import Unit
from engine.errors import InputError, UnreadableQuantity
from engine.quantities import UNITS, Dimension, Measure, read_measure, unit_called

_NUMBER = re.compile(r"^\s*([-+]?(?:\d+(?:[.,]\d+)?|\.\d+))\s*(.*?)\s*$")
_PER = re.compile(r"\s*/\s*|\s+(?:per|an?|each|por)\s+", re.IGNORECASE)
_LENGTHS = {
    "thousand feet": "1000 ft",
    "thousand ft": "1000 ft",
    "1000 feet": "1000 ft",
    "1000 foot": "1000 ft",
    "1000ft": "1000 ft",
    "mil pies": "1000 ft",
    "hundred meters": "100 m",
    "hundred metres": "100 m",
    "100 meters": "100 m",
    "100 metres": "100 m",
    "100m": "100 m",
    "cien metros": "100 m",
}
_OTHER = {
    "g/m": ("g/100 m", 100.0),
    "kg/100 m": ("g/100 m", 1000.0),
    "oz/ft": ("oz/1000 ft", 1000.0),
    "lb/1000 ft": ("oz/1000 ft", 16.0),
    "g/1000 ft": ("oz/1000 ft", 1 / 28.349523125),
    "mi/min": ("mph", 60.0),
}
"""Units that people write and the table has not: the unit to take, and how many of it one is (exact definitions)."""


def read_written(text: str, *dimensions: Dimension) -> Measure:
    """A number and a unit as people write it; a bare number from 0 to 1 is a share where a share is wanted.

    Raises UnreadableQuantity or WrongDimension as ``read_measure`` does.
    """
    found = _NUMBER.match(text)
    if found is None:
        return read_measure(text, *dimensions)
    number, unit = found[1], found[2]
    if not unit and dimensions == (Dimension.RATIO,):
        return _share(text, number)
    known, times = unit_written(unit) or (None, 1.0)
    if known is None:
        return read_measure(text, *dimensions)
    read = read_measure(f"{number} {known.symbol}", *dimensions)
    return read if times == 1 else Measure(value=read.value * times, unit=read.unit)


def unit_written(text: str) -> tuple[Unit, float] | None:
    """The unit that a spelling means, and how many of it one is; None where there is none."""
    if (found := unit_called(text)) is not None:
        return found, 1.0
    symbol = "/".join(_part(one) for one in _PER.split(" ".join(text.split()).rstrip(".")))
    if symbol in _OTHER:
        unit, times = _OTHER[symbol]
        return UNITS[unit], times
    found = unit_called(symbol)
    return None if found is None else (found, 1.0)


def unit_wanted(text: str) -> Unit:
    """The unit that an answer is to have."""
    found = unit_written(text)
    if found is None or found[1] != 1:
        raise UnreadableQuantity(text, "--in needs a unit I know, such as g or lb/acre")
    return found[0]


def _part(text: str) -> str:
    known = unit_called(text)
    if known is not None:
        return known.symbol
    return _LENGTHS.get(text.strip().lower(), text.strip())


def _share(text: str, number: str) -> Measure:
    value = float(number.replace(",", "."))
    if not 0 <= value <= 1:
        raise InputError(f"{text!r}: write a share as 0.65 or 65 %")
    return Measure(value=value, unit="1")
