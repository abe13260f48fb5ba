"""What a field got of a product in a year, over all shifts that are known here: of every planter of the farm."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, tzinfo

from engine.dialog.facts.applied import Applied
from engine.dialog.facts.register import same_name
from engine.quantities import Measure

ONCE_OVER = 0.95
"""Share of a field from which on it counts as gone over once more (own decision)."""


@dataclass(frozen=True)
class SeasonTotal:
    """``amount`` of product on ``area`` of the field in the year; ``estimate`` where in part it is the wanted rate over
    the area. ``size`` of the field is None where nobody told it."""

    amount: Measure
    area: Measure
    estimate: bool
    size: Measure | None

    @property
    def rate(self) -> Measure:
        """The rate on the ground that was treated, one pass [lb/acre]."""
        acres = self.area.to("acre").value
        return Measure(value=self.amount.to("lb").value / acres if acres > 0 else 0.0, unit="lb/acre")

    @property
    def passes(self) -> int | None:
        """How often the whole field was gone over; None where its size is not known and anything was applied."""
        acres = self.area.to("acre").value
        if self.size is None:
            return 0 if acres <= 0 else None
        return math.floor(acres / self.size.to("acre").value + 1 - ONCE_OVER)

    @property
    def earlier(self) -> Measure | None:
        """What the ground that is treated next has already got [lb/acre]: of a field that is not done once, nothing,
        as no ground is gone over twice on purpose; None where that cannot be known."""
        passes = self.passes
        return None if passes is None else Measure(value=self.rate.value * passes, unit="lb/acre")


def season_total(
    applied: Iterable[Applied], field: str, product: str, at: datetime, zone: tzinfo, size: Measure | None
) -> SeasonTotal:
    """The total of a field and a product in the year of an instant, where the calendar is that of ``zone``."""
    year = at.astimezone(zone).year
    mine = [
        one
        for one in applied
        if same_name(one.field, field) and same_name(one.product, product) and one.since.astimezone(zone).year == year
    ]
    return SeasonTotal(
        amount=Measure(value=sum(_pounds(one) for one in mine), unit="lb"),
        area=Measure(value=sum(one.area.to("acre").value for one in mine), unit="acre"),
        estimate=any(one.amount is None or one.shared or one.by_clock for one in mine),
        size=size,
    )


def _pounds(one: Applied) -> float:
    if one.amount is not None:
        return one.amount.to("lb").value
    return one.rate.to("lb/acre").value * one.area.to("acre").value
