"""Simulated nights with each plan of looking, by the rules alone, and what they come to beside what was promised."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np

from engine.quantities import quantity
from engine.reminders.inspection import DEFAULT, LookPlan, RefillsOnly, WithinArea
from engine.reminders.price import Outfit, Price, price
from engine.reminders.rules import PlantingPace
from engine.reminders.sight import Sight
from engine.simulation.night import SPACING_IN, Night, NightModel, draw_night
from engine.simulation.reminding import Planned
from engine.simulation.watching import Watching

EFFICIENCY = 0.65
"""Field efficiency that is believed at the start (ASAE-D497)."""
STREAM = 5
PLANS: Mapping[str, LookPlan] = {
    "refills_only": RefillsOnly(),
    "default": DEFAULT,
    **{f"within_{acres}": WithinArea(quantity(acres, "acre")) for acres in (15, 10, 5)},
}


@dataclass(frozen=True)
class PlanToll:
    """What nights with one plan come to; acres are of the machine, ``row_acres`` those of the row that stood bare.

    ``walks`` are looks besides the refills; ``promised`` is what the rules promised of 95 in 100 of these nights, and
    ``kept`` the share of nights that kept to what was promised of their own planter; ``looks_told`` what was told.
    """

    looks: float
    walks: float
    acres_median: float
    acres_p95: float
    row_acres_mean: float
    row_acres_p95: float
    promised: float
    kept: float
    looks_told: float
    false_alarms_per_night: float


def outfit_of(night: Night) -> Outfit:
    """The figures that the operator of a night knows of his planter."""
    shift, pace = (
        night.shift,
        PlantingPace(quantity(night.mph, "mph"), quantity(night.width_ft, "ft"), quantity(EFFICIENCY, "1")),
    )
    sight = Sight.OUTLET if shift.outlets else Sight.HOPPER
    hopper, rate = quantity(night.hopper, "lb"), quantity(night.rate, "lb/acre")
    return Outfit(shift.rows, quantity(SPACING_IN, "in"), hopper, rate, pace, sight)


def compare_plans(shift: NightModel, nights: int, seed: int) -> dict[str, dict[Sight, PlanToll]]:
    """The same nights with each plan, hoppers compared by eye and granules seen at the outlets."""
    return {
        name: {sight: _toll(plan, shift, sight, nights, seed) for sight in (Sight.HOPPER, Sight.OUTLET)}
        for name, plan in PLANS.items()
    }


def promise(plan: LookPlan, shift: NightModel, nights: int, seed: int) -> float:
    """What a plan promises at 95 of 100 of these nights [acre of the machine]."""
    return float(np.quantile([promised(plan, draw_night(shift, seed, index)) for index in range(nights)], 0.95))


def _toll(plan: LookPlan, shift: NightModel, sight: Sight, nights: int, seed: int) -> PlanToll:
    shift = replace(shift, outlets=sight is Sight.OUTLET)
    drawn = [draw_night(shift, seed, index) for index in range(nights)]
    outfits = [outfit_of(night) for night in drawn]
    played = [Watching(one, Planned(plan, outfit), STREAM).play() for one, outfit in zip(drawn, outfits, strict=True)]
    told = [price(plan, outfit, timedelta(hours=shift.hours)) for outfit in outfits]
    acres, bare = (np.array([one.in_doubt for one in played]), np.array([one.bare for one in played]) / shift.rows)
    promised = np.array([_acres(one) for one in told])
    return PlanToll(
        float(np.mean([one.checks for one in played])),
        float(np.mean([one.checks - one.refills for one in played])),
        float(np.median(acres)),
        float(np.quantile(acres, 0.95)),
        float(np.mean(bare)),
        float(np.quantile(bare, 0.95)),
        float(np.quantile(promised, 0.95)),
        float(np.mean(acres <= promised)),
        float(np.mean([one.looks for one in told])),
        float(np.mean([one.false_alarms + one.named_wrong for one in played])),
    )


def promised(plan: LookPlan, night: Night) -> float:
    """What a plan promises of the planter of a night [acre of the machine]."""
    return _acres(price(plan, outfit_of(night), timedelta(hours=night.shift.hours)))


def _acres(found: Price) -> float:
    return float(found.within.to("acre").magnitude)
