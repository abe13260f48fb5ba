"""The catch: what is left of a reading when the container is taken off, or a tube is turned to mass."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import expressed, not_negative, positive, shown
from engine.calculations.kinds import Density, Mass, PerRow, Volume
from engine.errors import OutOfDomain


@dataclass(frozen=True)
class NetCatch:
    """The net mass; below zero when the reading is lighter than the container alone."""

    outcome: Literal["fine", "lighter_than_container"]
    net: Mass


@formula("net-catch", sources=("WEIGHING",))
def net_catch(gross: Mass, tare: Mass) -> NetCatch:
    """Net mass of a catch, net = gross - tare [g, oz].

    On ``lighter_than_container`` the net is the (negative) difference, for the answer only: never a catch.
    Valid: both zero or above. Errors: OutOfDomain. Source: WEIGHING.
    """
    net = expressed(not_negative("gross", gross), "g") - expressed(not_negative("tare", tare), "g")
    return NetCatch("lighter_than_container" if net.magnitude < 0 else "fine", net)


@formula("net-catches", sources=("WEIGHING",))
def net_catches(gross: PerRow[Mass], tare: Mass) -> PerRow[Mass]:
    """Net mass of each row's catch, all containers weighing the same: net = gross - tare [g, oz].

    Valid: gross of every row at least the tare. Errors: OutOfDomain naming the row. Source: WEIGHING.
    """
    return {row: _net(row, one, tare) for row, one in gross.items()}


def _net(row: int, gross: Mass, tare: Mass) -> Mass:
    found = net_catch(gross, tare)
    if found.outcome == "lighter_than_container":
        raise OutOfDomain(f"row {row}", shown(gross), f"it is lighter than the container alone, {shown(tare)}")
    return found.net


@formula("poured-catch", sources=("DENSITY-IDENTITY", "ASTM-E727"))
def poured_catch(volume: Volume, density: Density) -> Mass:
    """Mass of product read in a measuring tube, m = V d [g, oz]. oz mass = fl oz x 1.04318 x (g/mL).

    ``volume`` V [mL, fl oz], a fluid ounce being a volume; ``density`` d [g/mL, lb/ft3] settled as the tube is read.
    Valid: volume zero or above, density above zero. Errors: OutOfDomain. Sources: DENSITY-IDENTITY, ASTM-E727.
    """
    return expressed(not_negative("volume", volume) * positive("density", density), "g")


@formula("poured-catches", sources=("DENSITY-IDENTITY", "ASTM-E727"))
def poured_catches(volumes: PerRow[Volume], density: Density) -> PerRow[Mass]:
    """Mass of each row's catch read in a measuring tube, m = V d [g]; see ``poured_catch``.

    Errors: OutOfDomain. Sources: DENSITY-IDENTITY, ASTM-E727.
    """
    return {row: poured_catch(one, density) for row, one in volumes.items()}
