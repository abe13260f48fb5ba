"""What the usual plans of looks cost and promise, as a dialog tells it before planting."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from engine.calculations.catalogue import formula
from engine.calculations.kinds import Area, Length, Mass, PerRow, Rate, Speed
from engine.quantities import quantity
from engine.reminders.inspection import DEFAULT, WithinArea
from engine.reminders.price import Outfit, price
from engine.reminders.rules import PlantingPace

NIGHT = timedelta(hours=12)
EFFICIENCY = quantity(65, "%")
"""Field efficiency of a row-crop planter: 50 to 75 %, typically 65 % (ASAE-D497)."""


@dataclass(frozen=True)
class LookPrices:
    """Looks in 12 hours, and the area of the machine within which a stopped row is found, for looks at refills and once
    between, and for two areas; ``once_row`` is the part of it under that row."""

    once_looks: int
    once_within: Area
    once_row: Area
    ten_looks: int
    ten_within: Area
    five_looks: int
    five_within: Area


@formula("look-prices", sources=("ISU-A3-24", "TRADE"))
def look_prices(
    rows: int,
    spacing: Length,
    rate: Rate,
    speed: Speed,
    loaded: PerRow[Mass],
    *,
    planned: Speed | None = None,
    capacity: Mass | None = None,
) -> LookPrices:
    """What looks at refills and once between, every 10 and every 5 acres cost in 12 hours and promise.

    ``loaded`` [lb, kg] of each of the ``rows``, or else ``capacity`` of a full hopper, at ``rate`` [lb/acre, kg/ha] or
    along the row, ``spacing`` [in, cm], at the ``planned`` speed or else ``speed`` [mph, km/h], with a field efficiency
    of 65 %. A row that loads nothing does not count. Valid: all above zero. Errors: OutOfDomain.
    Sources: ISU-A3-24, TRADE.
    """
    used = [mass for row, mass in loaded.items() if row <= rows and mass.magnitude > 0]
    count = max(len(used), 1)
    hopper = capacity if capacity is not None else min(used, default=quantity(1, "lb"))
    width: Length = spacing * count
    outfit = Outfit(count, spacing, hopper, rate, PlantingPace(planned or speed, width, EFFICIENCY))
    ten, five = quantity(10, "acre"), quantity(5, "acre")
    once, every_ten, every_five = (price(plan, outfit, NIGHT) for plan in (DEFAULT, WithinArea(ten), WithinArea(five)))
    return LookPrices(
        once.looks,
        once.within,
        once.within_row,
        every_ten.looks,
        every_ten.within,
        every_five.looks,
        every_five.within,
    )
