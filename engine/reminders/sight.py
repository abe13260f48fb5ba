"""How somebody looks whether rows feed, and how much goes by before what he sees can show a row that stopped."""

from __future__ import annotations

import math
from enum import StrEnum

from engine.calculations.domain import number
from engine.calculations.hoppers.use import POUR, READING, SURELY_SEEN, unseen_area
from engine.calculations.kinds import Area, Length, Mass, Rate
from engine.quantities import quantity


class Sight(StrEnum):
    """Hoppers compared by eye; their content measured with a dip stick or weighed; granules seen at the outlets."""

    HOPPER = "hopper"
    STICK = "stick"
    OUTLET = "outlet"


SHARE = {
    Sight.HOPPER: number(SURELY_SEEN),
    Sight.STICK: 2 * math.hypot(READING, POUR),
    Sight.OUTLET: 0.0,
}
"""Share of a full hopper by which a row that stopped surely shows: two standard deviations on the safe side of what
each way of looking is off by (common practice, no source). Granules that drop are seen now, so nothing goes by."""


def unseen_by(sight: Sight, hopper: Mass, rate: Rate, spacing: Length, rows: int) -> Area:
    """Area that the machine of ``rows`` plants before a stopped row surely shows to this ``sight`` [acre, ha].

    ``hopper`` [lb, kg] a full one, ``rate`` [lb/acre, kg/ha] or along the row, ``spacing`` [in, cm], all above zero.
    "All good" proves a row to have fed until so much before the look. Errors: OutOfDomain.
    """
    whole = unseen_area(hopper, rate, spacing, rows, quantity(100, "%"))
    area: Area = SHARE[sight] * whole
    return area
