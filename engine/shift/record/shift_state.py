"""The state of a shift: what its facts come to, inside the state of its dialog."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import lru_cache
from typing import Literal

from pydantic import AwareDatetime

from engine.dialog.activity import ActivityState, Load
from engine.dialog.facts.applied import Applied
from engine.dialog.facts.role_values import as_measure, as_word
from engine.messages import Report
from engine.quantities import Measure
from engine.shift.record.parts import left_parts, parts
from engine.shift.record.shift_facts import Doubted, LookSet, OverLabel, RateFound
from engine.shift.record.shift_ledger import HopperLedger, HopperLevel
from engine.shift.record.shift_names import FIELD, PRODUCT, Named, name_at
from engine.shift.record.timeline import AreaTold, Driven, Pause, Timeline
from engine.values import Value

FINISHED = "over"
"""The value of the last ENDED report; one before it stops the clock and asks what is left in the hoppers."""
LOOKED = frozenset(
    {Report.GOOD, Report.HIGH, Report.STOPPED, Report.DROPPING, Report.LEFT, Report.LEVEL, Report.REFILLED}
)
"""Reports by somebody who looked at the hoppers."""
NAMED = {
    Report.SPEED: "speed",
    Report.RATE: "rate",
    Report.PRODUCT: "product",
    Report.LOT: "lot",
    Report.FIELD: "field",
    Report.HANDED_OVER: "operator",
}
"""What a report changes for the rest of the shift."""
CALLED = (Report.FIELD, Report.PRODUCT, Report.HANDED_OVER)
"""Reports with a name, which a recogniser does not know before it was told."""
EFFICIENCY, OVER, CALIBRATIONS = "efficiency", "over_label", "calibrations"
"""What the next shift begins with: field efficiency, a rate over the label [lb/acre], and since which test run."""
REFILLS, ONCE = "refills", "once"
"""Plans of looks without an area: at refills alone, and once more between two of them."""


class ShiftState(ActivityState):
    """Where a shift stands. It holds instants; how much was planted between two of them says its timeline."""

    kind: Literal["shift"] = "shift"
    started: AwareDatetime
    last: AwareDatetime
    """The newest moment at which anything was said."""
    calibrations: int = 0
    """How many test runs had been finished when it began."""
    believed: float
    """Field efficiency before any area was told [1]."""
    efficiency: float
    """Field efficiency as it is believed now [1]."""
    spacing: Measure
    rate: Measure
    """The rate that was calibrated."""
    speeds: tuple[Driven, ...]
    """Speeds from their instants on, in order of time; the first from the beginning."""
    pauses: tuple[Pause, ...] = ()
    """When the planter stood, in order of time; the last one may be open."""
    told: tuple[AreaTold, ...] = ()
    """Areas that were told, in order of time."""
    ledger: HopperLedger
    poured: tuple[Load, ...] = ()
    """What went into the hoppers by lot, in order."""
    filled: dict[int, HopperLevel] = {}
    """What each hopper held when it was last filled."""
    looked: AwareDatetime
    """When somebody last looked at the hoppers."""
    proofs: dict[int, AwareDatetime]
    """Until when each row in use is known to have fed."""
    troubled: dict[int, Report] = {}
    """Rows that stopped or stay high."""
    stretches: dict[int, AwareDatetime] = {}
    """Since when each row was last in doubt."""
    dated: tuple[int, ...] = ()
    """Rows of which the operator said when they went wrong."""
    closing: bool = False
    """Whether planting is over and only the books are open."""
    snoozed: AwareDatetime | None = None
    """Until when a look was put off."""
    now: dict[str, Value] = {}
    """What is planted with, by name: speed, rate, product, lot, field, operator."""
    names: tuple[Named, ...] = ()
    """The names of field, product and lot from their instants on, in order of time."""
    ahead: float = 0.0
    """How far the time of the shift is ahead of a clock that went back [s]."""
    moved: bool = False
    """Whether it is in another field than it began in."""
    entered: AwareDatetime
    """When the field of now was entered."""
    size: Measure | None = None
    """Area of the field that it moved to."""
    naming: Report | None = None
    """What was told without its name."""
    fills: bool | None = None
    """How refills are meant where nobody says: up to the mark, or on top; None before that was asked."""
    looks: Measure | str | None = None
    """How often to look, where that was said in this shift: within an area of the machine, or one of the plans."""
    longest: Measure | None = None
    """The longest time between looks, where it was said in this shift."""
    over: OverLabel | None = None
    """A measured rate over the label's highest that nobody has decided on yet."""
    look: LookSet | None = None
    doubts: tuple[Doubted, ...] = ()
    rates: tuple[RateFound, ...] = ()

    def wall(self, at: datetime) -> datetime:
        """What the clock on the wall shows at an instant of the shift."""
        return at - timedelta(seconds=self.ahead)

    @property
    def timeline(self) -> Timeline:
        """How much was planted when, by all that is known now."""
        width = self.spacing, len(self.rows)
        return _timeline(self.started, width, self.speeds, self.pauses, self.told, self.efficiency)

    @property
    def wanted(self) -> Measure:
        """The rate that is wanted now, by area or along the row."""
        return as_measure(self.now.get(str(Report.RATE))) or self.rate

    @property
    def learned(self) -> dict[str, float]:
        over = self.over.rate.to("lb/acre").value if self.over and not self.over.season else 0.0
        return {EFFICIENCY: self.efficiency, OVER: over, CALIBRATIONS: float(self.calibrations)}

    @property
    def operator(self) -> str | None:
        return as_word(self.now.get(NAMED[Report.HANDED_OVER]))

    def product(self, planned: str | None) -> str | None:
        """The name that was told last; None after another product that was not named yet."""
        told = [one.value for one in self.names if one.name == PRODUCT]
        return told[-1] if told else planned

    def applied(self, put_back: Measure | None = None) -> tuple[Applied, ...]:
        return parts(self, put_back=put_back)

    @property
    def treating(self) -> str | None:
        return None if self.closing else name_at(self.names, FIELD, self.last)

    def left(self) -> tuple[Applied, ...]:
        return tuple(map(self.by_the_wall, left_parts(self)))

    def by_the_wall(self, one: Applied) -> Applied:
        """A part with its moments as the clock on the wall had them."""
        return one.model_copy(update={"since": self.wall(one.since), "until": self.wall(one.until)})

    @property
    def loads(self) -> tuple[Load, ...]:
        return self.poured

    @property
    def paused(self) -> bool:
        return not self.closing and self.stood is not None

    @property
    def stood(self) -> datetime | None:
        """Since when the planter stands; None while it plants."""
        return self.pauses[-1].since if self.pauses and self.pauses[-1].until is None else None

    @property
    def runs(self) -> bool:
        """Whether the planter is planting."""
        return self.stood is None and not self.closing

    @property
    def planting_since(self) -> datetime:
        """When it began to plant, or last went on."""
        return max((one.until for one in self.pauses if one.until is not None), default=self.started)

    @property
    def rows(self) -> tuple[int, ...]:
        """The rows in use."""
        return tuple(sorted(self.proofs))


@lru_cache(maxsize=64)
def _timeline(
    started: datetime,
    width: tuple[Measure, int],
    speeds: tuple[Driven, ...],
    pauses: tuple[Pause, ...],
    told: tuple[AreaTold, ...],
    efficiency: float,
) -> Timeline:
    """Drawn once for what it rests on, however often a shift is asked for it."""
    spacing, rows = width
    return Timeline(started, spacing.quantity * rows, speeds, pauses, told, efficiency)
