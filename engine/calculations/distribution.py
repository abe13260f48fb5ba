"""Distributions of probability, as scipy has them; it is loaded when one is first wanted, not when a program starts."""

from __future__ import annotations

from functools import cache
from typing import Any


@cache
def _scipy() -> Any:
    from scipy import special  # noqa: PLC0415

    return special


def student_share(freedom: float, value: Any) -> Any:
    """The share of Student's t with so many degrees of freedom that lies below a value, or below each of an array."""
    return _scipy().stdtr(freedom, value)


def student_value(freedom: float, share: float) -> float:
    """The value below which a share of Student's t lies."""
    return float(_scipy().stdtrit(freedom, share))


def chi_square_value(freedom: float, share: float) -> float:
    """The value above which a share of chi-square lies."""
    return float(_scipy().chdtri(freedom, share))


def log_normal_shares(values: Any) -> Any:
    """The natural logarithm of the share of the standard normal distribution below each of an array of values."""
    return _scipy().log_ndtr(values)
