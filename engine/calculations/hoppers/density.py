"""The settled density of a product: as it was told, or from one tube that was weighed full and empty."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import expressed, not_negative, positive, shown
from engine.calculations.kinds import Density, Mass, Volume
from engine.errors import OutOfDomain

USUAL = 0.3, 1.8
"""Grams a milliliter of the granules in use (common practice, no source); others are asked about."""


@dataclass(frozen=True)
class DensityTold:
    """The density where somebody knows it."""

    outcome: Literal["told", "unknown"]
    density: Density | None = None


@dataclass(frozen=True)
class TubeWeighed:
    """What a full tube says of the density; none where it is no heavier than the empty one."""

    outcome: Literal["usual", "unusual", "no_heavier"]
    density: Density | None = None


@formula("density-told", sources=("ASTM-E727",), without={"unknown": ("density",)})
def density_told(told: Density | None = None) -> DensityTold:
    """The settled density d as it was ``told`` [g/mL, lb/ft3], or that it is to be measured.

    Valid: above zero. Errors: OutOfDomain. Source: ASTM-E727.
    """
    if told is None:
        return DensityTold("unknown")
    return DensityTold("told", expressed(positive("told", told), "g/mL"))


@formula("measured-density", sources=("DENSITY-IDENTITY", "ISO-5311", "WEIGHING"))
def measured_density(volume: Volume, full: Mass, empty: Mass) -> Density:
    """Density of the product in a tube, d = (full - empty) / V [g/mL, lb/ft3].

    ``volume`` V [mL, fl oz] as it settles by tapping, ``full`` and ``empty`` weight of the tube [g, oz].
    Valid: volume above zero, empty zero or above, full above empty. Errors: OutOfDomain.
    Sources: DENSITY-IDENTITY, ISO-5311, WEIGHING.
    """
    tube, both, held = not_negative("empty", empty), positive("full", full), positive("volume", volume)
    if both <= tube:
        raise OutOfDomain("full", shown(full), f"it is no heavier than the empty tube, {shown(empty)}")
    return expressed((both - tube) / held, "g/mL")


@formula("tube-weighed", sources=("TRADE", "WEIGHING"), without={"no_heavier": ("density",)})
def tube_weighed(volume: Volume, full: Mass, empty: Mass) -> TubeWeighed:
    """Whether a weighed tube gives a density, from 0.3 to 1.8 g/mL as granules have it; see ``measured-density``.

    Valid: volume and full above zero, empty zero or above. Errors: OutOfDomain. Sources: TRADE, WEIGHING.
    """
    positive("volume", volume)
    if positive("full", full) <= not_negative("empty", empty):
        return TubeWeighed("no_heavier")
    density = measured_density(volume, full, empty)
    low, high = USUAL
    return TubeWeighed("usual" if low <= density.to("g/mL").magnitude <= high else "unusual", density)
