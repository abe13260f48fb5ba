"""Distributions of probability by their closed forms, so that no library is loaded for them.

All degrees of freedom in the house are whole numbers, for which Student's t and chi-square are finite sums. Source:
Abramowitz and Stegun 1964, Handbook of Mathematical Functions (formula numbers from memory); the tests hold every
function against another implementation.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import cache
from itertools import accumulate
from statistics import NormalDist
from typing import Any

import numpy as np

FAR_OUT = -30.0
"""Below this many deviations the share of the normal distribution is taken by its asymptotic series."""


def student_share(freedom: float, value: Any) -> Any:
    """The share of Student's t that lies below a value, or below each of an array; to 1e-14, not of itself but of all.

    With n degrees of freedom and theta = atan(t / sqrt n) it is 1/2 + A / 2, for even n with
    A = sin theta (1 + 1/2 cos^2 + (1 3)/(2 4) cos^4 + ... to cos^(n-2)), for odd n with
    A = 2/pi (theta + sin theta cos theta (1 + 2/3 cos^2 + (2 4)/(3 5) cos^4 + ... to cos^(n-3))).
    Valid: n a whole number from 1, else ValueError. Source: Abramowitz and Stegun 26.7.3, 26.7.4 (from memory).
    """
    n = _whole(freedom)
    root = (n + value * value) ** 0.5
    sine, square = value / root, n / (n + value * value)
    inner = _series(_weights(n), square)
    if n % 2 == 0:
        return 0.5 + sine * inner / 2
    return 0.5 + (np.arctan2(value, math.sqrt(n)) + sine * square**0.5 * inner) / math.pi


def student_value(freedom: float, share: float) -> float:
    """The value below which a ``share`` of Student's t lies; 0 < share < 1."""
    high = abs(NormalDist().inv_cdf(share)) + 1.0
    wanted = max(share, 1 - share)
    while student_share(freedom, high) < wanted:
        high *= 2
    found = _root(lambda t: wanted - float(student_share(freedom, t)), 0.0, high)
    return math.copysign(found, share - 0.5)


def chi_square_value(freedom: float, share: float) -> float:
    """The value above which a ``share`` of chi-square lies; 0 < share < 1, ``freedom`` a whole number from 1."""
    n = _whole(freedom)
    high = n + 1.0
    while _chi_square_above(n, high) > share:
        high *= 2
    return _root(lambda x: _chi_square_above(n, x) - share, 0.0, high)


def log_normal_shares(values: Any) -> Any:
    """The natural logarithm of the share of the standard normal distribution below each of an array of values.

    ln(erfc(-x / sqrt 2) / 2); far out ln phi(x) - ln(-x) + ln(1 - 1/x^2 + 3/x^4 - 15/x^6 + 105/x^8), whose next term is
    below 1e-11 there. Source: Abramowitz and Stegun 26.2.12 (from memory).
    """
    x = np.asarray(values, dtype=np.float64)
    near = np.maximum(x, FAR_OUT)
    outer = _each_erfc(np.abs(near) / math.sqrt(2)) / 2
    found = np.where(near > 0, np.log1p(-outer), np.log(np.maximum(outer, 1e-300)))
    far = np.minimum(x, FAR_OUT)
    over = 1 / far**2
    series = np.log1p(over * (-1 + over * (3 + over * (-15 + over * 105))))
    tail = -(far**2) / 2 - math.log(2 * math.pi) / 2 - np.log(-far) + series
    return np.where(x < FAR_OUT, tail, found)


def _each_erfc(values: Any) -> Any:
    return np.fromiter(map(math.erfc, values.ravel().tolist()), np.float64, values.size).reshape(values.shape)


def _chi_square_above(n: int, x: float) -> float:
    """Q(x): exp(-x/2) times the sum of (x/2)^k / k! to k = n/2 - 1 for even n; for odd n erfc(sqrt(x/2)) and
    sqrt(2 x / pi) exp(-x/2) times the sum of x^k / (1 3 5 ... (2k + 1)) to k = (n - 3) / 2 (26.4.4, 26.4.5)."""
    if n % 2 == 0:
        terms = accumulate(range(1, n // 2), lambda term, k: term * x / (2 * k), initial=1.0)
        return math.exp(-x / 2) * math.fsum(terms)
    terms = accumulate(range(1, (n - 1) // 2), lambda term, k: term * x / (2 * k + 1), initial=1.0 if n > 1 else 0.0)
    return math.erfc(math.sqrt(x / 2)) + math.sqrt(2 * x / math.pi) * math.exp(-x / 2) * math.fsum(terms)


@cache
def _weights(n: int) -> tuple[float, ...]:
    """The numbers before the powers of cos^2 in the sums of Student's t; none where the sum is empty."""
    if n == 1:
        return ()
    start, count = (1, n // 2) if n % 2 == 0 else (2, (n - 1) // 2)
    return tuple(accumulate(range(start, start + 2 * (count - 1), 2), lambda term, k: term * k / (k + 1), initial=1.0))


def _series(weights: Sequence[float], square: Any) -> Any:
    """The sum of weight times power, from the highest power down."""
    total = square * 0.0
    for weight in reversed(weights):
        total = total * square + weight
    return total


def _whole(freedom: float) -> int:
    if freedom < 1 or freedom != int(freedom):
        raise ValueError(f"{freedom} degrees of freedom: a whole number from 1 is needed")
    return int(freedom)


def _root(falling: Callable[[float], float], low: float, high: float) -> float:
    """Where a falling function is zero between two places, halved down to the last digit of a float."""
    while (middle := (low + high) / 2) not in (low, high):
        if falling(middle) > 0:
            low = middle
        else:
            high = middle
    return middle
