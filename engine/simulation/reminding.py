"""Who keeps watch over a simulated night: one who is reminded by the rules alone, one who looks by habit, or nobody."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Protocol

from engine.quantities import quantity
from engine.reminders.inspection import Filling, LookPlan, next_look
from engine.reminders.price import Outfit
from engine.reminders.reminder import Audience
from engine.reminders.rules import AcreReport, Decider, PlantingPace, learned_efficiency

HABIT_HOURS = 2.0


@dataclass(frozen=True)
class ReminderAsked:
    """When something was asked, of whom, and which time it was, from 1."""

    at: datetime
    audience: Audience
    attempt: int


@dataclass(frozen=True)
class ReportOutcome:
    """What came of a report: rows ``named`` by their use, with their probabilities; ``since`` which hour of the shift
    a row that was told is in doubt, None where nobody says; what was ``said`` and the ``reply``."""

    named: Mapping[int, float] = field(default_factory=dict)
    since: float | None = None
    said: str = ""
    reply: str = ""


class Reminding(Protocol):
    """Hears what the operator finds, and says when he is to look next. Hours count from the start of the shift."""

    def seen(self, hour: float, high: Sequence[int], /) -> ReportOutcome:
        """Somebody looked: these hoppers stand high."""

    def stopped(self, hour: float, row: int, /) -> ReportOutcome:
        """A row was found to feed wrong, by its use."""

    def mended(self, hour: float, row: int, /) -> ReportOutcome:
        """A row feeds again."""

    def refilled(self, hour: float, acres: float, poured: Sequence[float], /) -> ReportOutcome:
        """So much was poured into each hopper, up to where it was filled before [lb]; ``acres`` are done in all."""

    def due(self) -> float | None:
        """When the next look is asked for; None for never."""

    def ring(self, until: float, /) -> tuple[ReminderAsked, ...]:
        """Ask, and ask again, until this hour, when somebody answers."""


@dataclass
class Habit:
    """Every so many hours by the clock of the operator's own head; ``every`` None is nobody."""

    every: float | None
    _due: float | None = field(default=None, init=False)

    def __post_init__(self) -> None:
        self._due = self.every

    def seen(self, hour: float, _high: Sequence[int]) -> ReportOutcome:
        self._due = None if self.every is None else hour + self.every
        return ReportOutcome()

    def stopped(self, _hour: float, _row: int) -> ReportOutcome:
        return ReportOutcome()

    def mended(self, _hour: float, _row: int) -> ReportOutcome:
        return ReportOutcome()

    def refilled(self, _hour: float, _acres: float, _poured: Sequence[float]) -> ReportOutcome:
        return ReportOutcome()

    def due(self) -> float | None:
        return self._due

    def ring(self, _until: float) -> tuple[ReminderAsked, ...]:
        return ()


@dataclass
class Planned:
    """By a plan of looking, straight from the rules: what was planted since the last word is reckoned by the pace,
    which is learned from the acres that are told at each refill. A hopper that runs out is left to the refill."""

    plan: LookPlan
    outfit: Outfit
    _filled: float = field(default=0.0, init=False)
    _pace: PlantingPace = field(init=False)
    _due: float | None = field(default=None, init=False)

    def __post_init__(self) -> None:
        self._pace = self.outfit.pace
        self._set(0.0)

    def seen(self, hour: float, _high: Sequence[int]) -> ReportOutcome:
        self._set(hour)
        return ReportOutcome()

    def stopped(self, _hour: float, _row: int) -> ReportOutcome:
        return ReportOutcome()

    def mended(self, _hour: float, _row: int) -> ReportOutcome:
        return ReportOutcome()

    def refilled(self, hour: float, acres: float, _poured: Sequence[float]) -> ReportOutcome:
        """The pace is that of all acres told over all hours."""
        pace = self.outfit.pace
        report = AcreReport(quantity(acres, "acre"), timedelta(hours=hour))
        learned = learned_efficiency(pace.efficiency, (report,), pace.speed, pace.width)
        self._pace, self._filled = PlantingPace(pace.speed, pace.width, learned), hour
        self._set(hour)
        return ReportOutcome()

    def due(self) -> float | None:
        return self._due

    def ring(self, _until: float) -> tuple[ReminderAsked, ...]:
        return ()

    def _set(self, hour: float) -> None:
        lasts = float(self.outfit.lasts.to("acre").magnitude)
        planted = min(float(self._pace.area(timedelta(hours=hour - self._filled)).magnitude), lasts)
        filling = Filling(quantity(planted, "acre"), quantity(lasts - planted, "acre"))
        look = next_look(self._pace, self.plan, self.outfit.limits, filling)
        asked = look is not None and look.decided_by is not Decider.RUN_OUT
        self._due = hour + look.interval / timedelta(hours=1) if look is not None and asked else None
