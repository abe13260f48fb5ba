"""What each plan of looking costs in walks, and what it promises, from the planter's own figures. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property

from engine.calculations.domain import counted, number
from engine.calculations.hoppers.hopper import hopper_area
from engine.calculations.hoppers.use import RATE_DOUBT
from engine.calculations.kinds import Area, Length, Mass, Rate
from engine.quantities import quantity
from engine.reminders.inspection import PACE_DOUBT, Filling, Limits, LookPlan, next_look
from engine.reminders.rules import Decider, PlantingPace
from engine.reminders.sight import Sight, unseen_by

REFILL_SHARE = 0.85
"""Share of a full hopper that is used when the hoppers are filled again (common practice, no source)."""
ANSWER = timedelta(minutes=5)
"""Within so long a reminder is answered (own decision)."""
PROMISED = 0.95
"""In this share of the cases a stopped row is found within what is promised."""


@dataclass(frozen=True)
class Outfit:
    """The planter's own figures: ``hopper`` a full one [lb, kg], ``rate`` [lb/acre, kg/ha] or along the row."""

    rows: int
    spacing: Length
    hopper: Mass
    rate: Rate
    pace: PlantingPace
    sight: Sight = Sight.HOPPER
    own: timedelta | None = None

    @cached_property
    def lasts(self) -> Area:
        """What the machine plants from full hoppers to empty ones [acre, ha]."""
        return hopper_area(self.hopper, self.rate, self.spacing, self.rows)

    @cached_property
    def limits(self) -> Limits:
        """What holds for each look."""
        unseen = unseen_by(self.sight, self.hopper, self.rate, self.spacing, self.rows)
        return Limits(own=self.own, unseen=unseen, answer=ANSWER)


@dataclass(frozen=True)
class Price:
    """Looks in all, of them ``walks`` that are made between refills; a stopped row is found ``within`` this area of the
    machine, in 95 of 100 cases, and within ``within_row`` of its own row [acre, ha]."""

    looks: int
    walks: int
    within: Area
    within_row: Area


def price(plan: LookPlan, outfit: Outfit, hours: timedelta) -> Price:
    """What a plan comes to in a night of so many ``hours`` that begins with full hoppers.

    A row that stops is in doubt from what the last look before proved. So at worst it is found within the longest
    stretch between two looks at the fastest pace (``PACE_DOUBT``, but no longer than a filling lasts, off by
    ``RATE_DOUBT``), what one of them cannot see, and what is planted until a reminder is answered (half of ``ANSWER``
    on the average); a stop is as likely on every acre. Errors: OutOfDomain.
    """
    gaps, refills = _gaps(plan, outfit, hours)
    unseen = unseen_by(outfit.sight, outfit.hopper, outfit.rate, outfit.spacing, outfit.rows)
    filling = REFILL_SHARE * float(outfit.lasts.to("acre").magnitude) * (1 + number(RATE_DOUBT))
    longest = min(_quantile(gaps) * (1 + PACE_DOUBT), filling)
    acres = longest + float(unseen.to("acre").magnitude) + float(outfit.pace.area(ANSWER / 2).magnitude)
    walks = len(gaps) - 1 - refills
    within = quantity(acres, "acre")
    return Price(walks + refills, walks, within, within / counted("rows", outfit.rows))


def _gaps(plan: LookPlan, outfit: Outfit, hours: timedelta) -> tuple[list[float], int]:
    """Acres between two looks, the last to the end of the night, and how many of the looks are refills. A call because
    a hopper runs out is the refill itself."""
    night = float(outfit.pace.area(hours).magnitude)
    lasts = float(outfit.lasts.to("acre").magnitude)
    pause = float(outfit.pace.area(ANSWER / 2).magnitude)
    gaps: list[float] = []
    refills, done, since = 0, 0.0, 0.0
    while True:
        filling = Filling(quantity(since, "acre"), quantity(max(lasts - since, 0.0), "acre"))
        look = next_look(outfit.pace, plan, outfit.limits, filling)
        refill = REFILL_SHARE * lasts - since
        runs_out = look is None or look.decided_by is Decider.RUN_OUT
        gap = refill if look is None or runs_out else float(look.area.magnitude) + pause
        at_refill = gap >= refill
        gap = min(gap, refill)
        if done + gap >= night:
            return [*gaps, night - done], refills
        gaps.append(gap)
        done, since, refills = done + gap, 0.0 if at_refill else since + gap, refills + at_refill


def _quantile(gaps: list[float]) -> float:
    """The gap that is not exceeded at 95 of 100 acres."""
    left = PROMISED * sum(gaps)
    for gap in sorted(gaps):
        left -= gap
        if left <= 1e-9:
            return gap
    return max(gaps)
