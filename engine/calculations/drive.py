"""The common drive: one change of sprockets for the whole machine, before any row's dial is touched."""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.domain import number, positive
from engine.calculations.kinds import Mass, PerRow, Ratio
from engine.calculations.meter import NOISE
from engine.calculations.patterns import fault_pattern
from engine.errors import OutOfDomain
from engine.quantities import quantity


@dataclass(frozen=True)
class DriveChange:
    """The ratio of the common drive to use next, the one that would suit exactly, and how far off the rows stay.

    change_drive = all rows are off together and another ratio brings them nearer; keep = they are, and no other does;
    rows_alone = rows are not off together: leave the drive and correct dials.
    """

    outcome: Literal["change_drive", "keep", "rows_alone"]
    ratio: Ratio
    suited: Ratio
    off: Ratio


@formula("drive-change", sources=("FAULT-LOGIC", "TRADE"))
def drive_change(
    caught: PerRow[Mass], target: Mass, tolerance: Ratio, ratio: Ratio, ratios: PerRow[Ratio], *, noise: Ratio = NOISE
) -> DriveChange:
    """Ratio of the common drive when all rows are off by the same share: suited = ratio x target / median of catches.

    Output per turn of the wheel follows the drive ``ratio`` (shaft turns per wheel turn); of the ``ratios`` the
    machine has, the nearest to the suited one by share is taken, as it leaves the least to the dials. ``off`` is what
    then stays in the middle of the rows. Together means all_alike in ``fault-pattern``, with ``caught``, ``target``
    [g, oz], ``tolerance`` and ``noise`` [%] as there.
    Valid: as there; ratios above zero, at least one. Errors: OutOfDomain. Sources: FAULT-LOGIC, TRADE.
    """
    if not ratios:
        raise OutOfDomain("ratios", len(ratios), "there must be at least one")
    present = number(positive("ratio", ratio))
    together = fault_pattern(caught, target, tolerance, noise).outcome == "all_alike"
    given = statistics.median(number(one / target) for one in caught.values())
    if not together or given == 0:
        return DriveChange("rows_alone", ratio, ratio, quantity(given - 1, "1"))
    suited = present / given
    found = [present, *(number(positive(f"ratio {place}", one)) for place, one in ratios.items())]
    best = min(found, key=lambda one: abs(math.log(one / suited)))
    outcome: Literal["change_drive", "keep"] = "keep" if best == present else "change_drive"
    return DriveChange(outcome, quantity(best, "1"), quantity(suited, "1"), quantity(best / suited - 1, "1"))
