"""The facts of a shift: what was told, when it happened, and what was concluded from it when it was said."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

from pydantic import AwareDatetime

from engine.dialog.activity import ActivityFact, KeptReport
from engine.dialog.schema.slot_roles import Role
from engine.messages import Message, Report
from engine.quantities import Measure
from engine.reminders.rules import Decider, Strain
from engine.shift.record.shift_ledger import Basis, HopperLevel
from engine.values import Rows, Value


class OverLabel(ActivityFact):
    """A measured rate is over the label's highest: of ``rows``, or of the whole machine where there are none."""

    kind: Literal["over_label"] = "over_label"
    at: AwareDatetime
    rate: Measure
    limit: Measure
    rows: tuple[int, ...] = ()
    season: bool = False
    """Whether it is the total of the season with the pass that is planned, over the label's season limit."""


class ShiftStarted(ActivityFact):
    """Planting began."""

    kind: Literal["shift_started"] = "shift_started"
    at: AwareDatetime
    hoppers: dict[int, Measure]
    """What the hopper of each row in use holds."""
    efficiency: float
    """Field efficiency that is believed to begin with [1]."""
    now: dict[str, Value] = {}
    """What is planted with, by name: product, lot, field."""
    over: OverLabel | None = None
    """The rate over the label that keeps it from planting, until somebody decides."""
    calibrations: int = 0
    """How many test runs had been finished by then."""
    speed: Measure | None = None
    """Speed that is driven to begin with; as the next two, in every fact that is written now."""
    spacing: Measure | None = None
    """Width that one row serves."""
    rate: Measure | None = None
    """Rate that is wanted, by area or along the row."""

    def completed(self, of: Callable[[Role], Value | Rows | None]) -> ShiftStarted:
        if self.speed is not None:
            return self
        known = {"speed": of(Role.PLANNED) or of(Role.SPEED), "spacing": of(Role.SPACING), "rate": of(Role.RATE)}
        return self.model_copy(update={name: one for name, one in known.items() if isinstance(one, Measure)})


class Noted(KeptReport):
    """A report of a shift was kept."""

    kind: Literal["noted"] = "noted"
    at: AwareDatetime
    """When it was said."""
    moment: AwareDatetime | None = None
    """When it happened, where that was said."""
    until: AwareDatetime | None = None
    """When it was over, where that was said."""
    rows: tuple[int, ...] = ()
    """All rows it is about."""
    value: Value | None = None
    lot: str | None = None
    size: Measure | None = None
    """Area of a field that is entered."""
    proofs: dict[int, AwareDatetime] = {}
    """Until when rows are now known to have fed; of a row that went wrong, since when by the operator's own word."""
    levels: dict[int, HopperLevel] = {}
    """What hoppers hold after it."""
    added: dict[int, Measure] = {}
    """What went into each hopper, where that was said of each."""
    poured: Measure | None = None
    """What went into all ``rows`` together; in bags where nobody said what one weighs."""
    full: bool | None = None
    """Of a refill: up to the mark, or on top of what was left; None where nobody said."""
    efficiency: float | None = None
    """Field efficiency that the areas told teach now, where that has changed [1]."""

    def completed(self, of: Callable[[Role], Value | Rows | None]) -> Noted:
        bag = of(Role.BAG)
        if self.poured is None or self.poured.unit != "1" or not isinstance(bag, Measure):
            return self
        return self.model_copy(update={"poured": bag.model_copy(update={"value": bag.value * self.poured.value})})

    @property
    def when(self) -> AwareDatetime:
        """When it happened."""
        return self.moment or self.at


class Doubted(ActivityFact):
    """Rows stopped or fed wrong from their last proof of feeding until they were found, as it was told then."""

    kind: Literal["doubted"] = "doubted"
    report: Report
    rows: tuple[int, ...]
    since: AwareDatetime
    until: AwareDatetime
    planted: Measure
    """What the whole planter did meanwhile."""
    area: Measure
    """The part of it under these rows."""
    row_length: Measure
    short: Measure
    """Product that may be missing there."""
    field: str | None = None
    instead: AwareDatetime | None = None
    """Since when the same stretch was told before, where that was another moment."""


class Emptied(Message):
    """The hopper of a row is reckoned to be empty at a moment."""

    row: int
    at: AwareDatetime


class LookSet(ActivityFact):
    """The hoppers are to be looked at."""

    kind: Literal["look_set"] = "look_set"
    at: AwareDatetime
    due: AwareDatetime | None = None
    """By when; None where no look is wanted, as in a pause."""
    area: Measure | None = None
    """What is planted by then since the last look."""
    passes: int | None = None
    """How many passes from now on it is, where the length of a pass is known."""
    decided_by: Decider | None = None
    tightened: tuple[Strain, ...] = ()
    accepted: Measure | None = None
    """The area that may be lost, where the look was put off so far that more is planted."""
    empty: Emptied | None = None
    """The hopper that does not last until then."""


class RateFound(ActivityFact):
    """What left the hoppers over a known area: the true rate since the last levels told, and over the whole shift."""

    kind: Literal["rate_found"] = "rate_found"
    at: AwareDatetime
    area: Measure
    used: Measure
    rate: Measure
    off: Measure
    """How far the rate is from the wanted one."""
    outcome: str
    rows: dict[int, Measure] = {}
    """Rates of single rows, of those that were told by themselves."""
    odd: tuple[int, ...] = ()
    """Rows that are named: they use less than the others."""
    chances: dict[int, float] = {}
    """How likely each row is to under-feed [1]."""
    delivered: dict[int, float] = {}
    """Use of each named row over the middle of the others [1]."""
    reckoned: bool = False
    """Whether the area is that of speed and clock, not of the operator."""
    corrects: bool = False
    """Whether the same use was told before, over another area."""
    basis: Basis = Basis.MEASURED
    """What the use rests on."""
