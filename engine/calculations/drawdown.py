"""Drawdown: the rate that what left the hoppers proves over a known area."""

from __future__ import annotations

from engine.calculations.catalogue import formula
from engine.calculations.domain import expressed, not_negative, positive, shown
from engine.calculations.kinds import Area, AreaRate, Mass
from engine.errors import OutOfDomain


@formula("drawdown", sources=("DRAW-CALC",))
def drawdown(loaded: Mass, left: Mass, area: Area) -> AreaRate:
    """Rate from what was used over a known area, R = (loaded - left) / A [lb/acre, kg/ha].

    ``loaded`` [lb, kg] put in, ``left`` [lb, kg] taken out again, ``area`` A [acre, ha] planted meanwhile.
    Valid: loaded and area above zero, left from zero to loaded. Errors: OutOfDomain. Source: DRAW-CALC.
    """
    return expressed(used(loaded, left) / positive("area", area), "kg/ha")


def used(loaded: Mass, left: Mass) -> Mass:
    """Product that left the hoppers, loaded - left [kg]. OutOfDomain where more is left than was loaded."""
    gone: Mass = expressed(positive("loaded", loaded), "kg") - expressed(not_negative("left", left), "kg")
    if gone.magnitude < 0:
        raise OutOfDomain("left", shown(left), f"it is more than the {shown(loaded)} that was loaded")
    return gone
