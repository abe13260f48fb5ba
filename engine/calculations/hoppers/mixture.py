"""Rows that feed among rows that under-feed: a mixture of two kinds, what all rows share and their scatter unknown."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.calculations.distribution import log_normal_shares

Floats = NDArray[np.float64]

LOW, HIGH, SCATTERS = 0.25, 6.0, 17
"""The scatter is looked for between these multiples of the one expected, at so many places."""
SHIFT_FREEDOM = 3.0
"""Degrees of freedom of what all rows share: a rate that is far from the calibrated one does not make rows that agree
look scattered (own decision)."""
REACH, FINE, MOST_PLACES = 16.0, 2.0, 2001
"""What all rows share is looked for within so many of its standard deviations, at so many places for each standard
deviation of what the rows tell of it; never at more places than that."""


@dataclass(frozen=True)
class Mixture:
    """What is believed before anything is measured; all numbers are shares.

    ``prior``: probability of a row to under-feed; it then lacks from ``least`` to ``most``, all alike. ``scatter``:
    standard deviation s0 of rows that feed, worth ``freedom`` measured rows: their variance has a scaled inverse
    chi-square distribution. ``common``: scale of what all rows share, by Student's t. ``reading``: deviation of
    one measured use.
    """

    prior: float
    least: float
    most: float
    scatter: float
    freedom: float
    common: float
    reading: float

    def chances(self, shares: Floats) -> Floats:
        """Probability of each row that it under-feeds, from its use over what it should have used, less 1."""
        scatter, log_scatter = self._scatters()
        variance = (scatter**2 + self.reading**2)[:, None, None]
        shift, log_shift = self._shifts(math.sqrt(float(variance.min()) / len(shares)))
        off = shares[None, None, :] - shift[None, :, None]
        feeds = math.log1p(-self.prior) - off**2 / variance / 2 - np.log(2 * math.pi * variance) / 2
        lacks = math.log(self.prior) + self._log_lacking(off, np.sqrt(variance))
        either = np.logaddexp(feeds, lacks)
        weight = either.sum(axis=2) + log_scatter[:, None] + log_shift[None, :]
        weight = np.exp(weight - weight.max())
        found: Floats = np.tensordot(weight / weight.sum(), np.exp(lacks - either), axes=2)
        return np.minimum(found, 1.0)

    def _scatters(self) -> tuple[Floats, Floats]:
        """Places of the scatter, even in its logarithm, and the logarithm of their weights."""
        times = np.geomspace(LOW, HIGH, SCATTERS)
        return self.scatter * times, -self.freedom * (np.log(times) + times**-2 / 2)

    def _shifts(self, told: float) -> tuple[Floats, Floats]:
        """Places of what all rows share, close enough for rows that ``told`` it to this standard deviation."""
        if self.common == 0:
            return np.zeros(1), np.zeros(1)
        half = math.ceil(min(REACH * FINE * max(self.common / told, 1.0), (MOST_PLACES - 1) / 2))
        places = np.linspace(-REACH, REACH, 2 * half + 1)
        return self.common * places, -(SHIFT_FREEDOM + 1) / 2 * np.log1p(places**2 / SHIFT_FREEDOM)

    def _log_lacking(self, off: Floats, deviation: Floats) -> Floats:
        """Logarithm of the density of a row that lacks some share between ``least`` and ``most``."""
        high, low = (-self.least - off) / deviation, (-self.most - off) / deviation
        turned = low > 0
        high, low = np.where(turned, -low, high), np.where(turned, -high, low)
        upper, lower = log_normal_shares(high), log_normal_shares(low)
        found: Floats = upper + np.log(-np.expm1(np.minimum(lower - upper, -1e-300))) - math.log(self.most - self.least)
        return found
