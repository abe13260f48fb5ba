"""The record told with days and hours as the farm writes them, as on the calendar and the clock on its wall."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime

from bot.record.shift_words import RecordReport


@dataclass(frozen=True)
class WallReport(RecordReport):
    """For what is printed and shown; tables and lists keep dates that can be sorted."""

    def day(self, when: datetime) -> str:
        """The day with its year."""
        return self.wording.day(when.astimezone(self.zone).date())

    def moment(self, when: datetime) -> str:
        return f"{self.day(when)}, {self.hour(when)}"

    def full_hour(self, when: datetime) -> str:
        """A mark on a line of time, which is short where the hour is full."""
        clock, local = self.wording.forms.clock, when.astimezone(self.zone)
        short = clock.counts_twelve(self.system) and not local.minute
        return self.hour(when).replace(":00", "", 1) if short else self.hour(when)

    def clock(self, local: datetime) -> str:
        return self.wording.forms.clock.shown(local.hour, local.minute, self.system)


def on_wall(told: RecordReport) -> WallReport:
    """The same with the days and hours of the farm."""
    return WallReport(**{field.name: getattr(told, field.name) for field in fields(told)})
