"""Where a formula has a meaning: guards for the values at its door.

Each guard gives its value back unchanged, or raises OutOfDomain with the argument, the value and why.
"""

from __future__ import annotations

import math
from functools import cache
from typing import Any

from engine.errors import OutOfDomain
from engine.quantities import UNITS, Quantity, magnitude, quantity, registry

CLOSE = 1e-9
"""Two values nearer than this share of each other are equal: conversion between units costs a few last digits."""


def at_most(value: float, limit: float) -> bool:
    """Whether a value lies up to a limit; exactly on it counts, and so do the last digits that units cost."""
    return value <= limit * (1 + CLOSE)


def side(off: float, allowed: float) -> int:
    """0 for a deviation up to what is allowed, else 1 above and -1 below."""
    return 0 if at_most(abs(off), allowed) else int(math.copysign(1, off))


def whole(value: float) -> int:
    """The smallest whole number from 1 that is not below a value, last digits aside."""
    return max(1, math.ceil(value * (1 - CLOSE)))


def at_least_one(name: str, count: int) -> int:
    """The count again; OutOfDomain unless it is 1 or more."""
    if count < 1:
        raise OutOfDomain(name, count, "1 or more")
    return count


def shown(value: Quantity) -> str:
    """A quantity as a person reads it in an error."""
    return f"{value.magnitude:.6g} {_symbols().get(str(value.units), f'{value.units:~P}')}".strip()


@cache
def _symbols() -> dict[str, str]:
    return {str(registry().parse_units(unit.pint)): symbol for symbol, unit in UNITS.items()}


def positive(argument: str, value: Quantity) -> Quantity:
    """A finite value above zero."""
    return _guarded(argument, value, value.magnitude > 0, "it must be more than zero")


def finite(argument: str, value: Quantity) -> Quantity:
    """Any finite value."""
    return _guarded(argument, value, True, "")


def not_negative(argument: str, value: Quantity) -> Quantity:
    """A finite value, zero or above."""
    return _guarded(argument, value, value.magnitude >= 0, "it cannot be below zero")


def share(argument: str, value: Quantity) -> Quantity:
    """A ratio above 0 and up to 1."""
    return _guarded(
        argument, value, number(value) > 0 and at_most(number(value), 1), "it must be above 0 and at most 100 %"
    )


def part(argument: str, value: Quantity) -> Quantity:
    """A ratio from 0 to 1."""
    return _guarded(
        argument, value, number(value) >= 0 and at_most(number(value), 1), "it must lie between 0 and 100 %"
    )


def tolerance_of(value: Quantity, argument: str = "tolerance") -> float:
    """A tolerance as a plain number, above 0 and below 1."""
    return number(_guarded(argument, value, 0 < number(value) < 1, "it must be above 0 and below 100 %"))


def counted(argument: str, value: int) -> int:
    """A whole number of at least one."""
    if value < 1:
        raise OutOfDomain(argument, value, "there must be at least one")
    return value


def expressed(amount: Any, unit: str) -> Quantity:
    """A quantity in one of our unit symbols; what pint's arithmetic gives has no type of its own."""
    return quantity(magnitude(amount, unit), unit)


def number(ratio: Quantity) -> float:
    """A ratio as a plain number: 5 % is 0.05."""
    return magnitude(ratio, "1")


def _guarded(argument: str, value: Quantity, holds: bool, why: str) -> Quantity:
    if not math.isfinite(value.magnitude):
        raise OutOfDomain(argument, shown(value), "it must be a finite number")
    if not holds:
        raise OutOfDomain(argument, shown(value), why)
    return value
