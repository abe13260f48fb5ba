"""The distributions against scipy's, over all that formulas ask and further out."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import special

from engine.calculations.distribution import chi_square_value, log_normal_shares, student_share, student_value

FREEDOMS = (1, 2, 3, 4, 5, 6, 11, 12, 13.0, 24.0, 36, 101, 500)
VALUES = np.concatenate([np.linspace(-60, 60, 2001), np.geomspace(1e-9, 1e9, 200), -np.geomspace(1e-9, 1e9, 200)])
EXACT = {1: lambda t: 0.5 + np.arctan(t) / math.pi, 2: lambda t: 0.5 + t / np.sqrt(2 + t * t) / 2}


@pytest.mark.parametrize("freedom", FREEDOMS)
def test_shares_of_student(freedom: float) -> None:
    # scipy itself is off by 2e-9 near zero with one degree of freedom, where the arc tangent is exact.
    theirs = EXACT[freedom](VALUES) if freedom in EXACT else special.stdtr(freedom, VALUES)
    assert np.allclose(student_share(freedom, VALUES), theirs, rtol=0, atol=1e-12)
    assert student_share(freedom, 0.0) == 0.5
    assert student_share(freedom, np.array([[1.0], [-2.0]])).shape == (2, 1)


@pytest.mark.parametrize("freedom", FREEDOMS)
@pytest.mark.parametrize("share", [0.001, 0.01, 0.025, 0.2, 0.4999, 0.5, 0.6, 0.9, 0.95, 0.975, 0.995, 0.9999])
def test_values_of_student(freedom: float, share: float) -> None:
    theirs = 0.0 if share == 0.5 else special.stdtrit(freedom, share)
    assert student_value(freedom, share) == pytest.approx(theirs, rel=1e-7, abs=1e-12)


@pytest.mark.parametrize("freedom", [0, 0.5, 2.5, -1])
def test_freedom_is_a_whole_number(freedom: float) -> None:
    with pytest.raises(ValueError, match="whole number"):
        student_share(freedom, 1.0)
    with pytest.raises(ValueError, match="whole number"):
        chi_square_value(freedom, 0.5)


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 7, 8, 15, 16, 40, 64, 301])
@pytest.mark.parametrize("share", [1e-6, 0.01, 0.05, 0.5, 0.9, 0.999])
def test_values_of_chi_square(freedom: float, share: float) -> None:
    assert chi_square_value(freedom, share) == pytest.approx(special.chdtri(freedom, share), rel=1e-9)


def test_logarithms_of_normal_shares() -> None:
    values = np.concatenate([np.linspace(-60, 40, 4001), [-1e6, -1e3, -30.0, -29.999999, -30.000001, 0.0]])
    assert np.allclose(log_normal_shares(values), special.log_ndtr(values), rtol=1e-10, atol=1e-300)
    assert log_normal_shares(np.zeros((2, 3))).shape == (2, 3)
