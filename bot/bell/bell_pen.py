"""What a message of the bell is written with: words, times, lengths and areas, to be read or to be said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.bell.hour import LocalHours
from bot.bell.texts import BellTexts, ReminderKey
from engine.dialog.reply.system_texts import SystemKey as HouseKey
from engine.dialog.reply.wording import Wording
from engine.quantities import Measure
from engine.reminders.local_time import zone_called

_MINUTES, _HOURS = timedelta(minutes=2), timedelta(hours=2)
"""From so long on a time is told in minutes, and in hours."""


@dataclass(frozen=True)
class BellPen:
    """Writes one message, to be read or to be said."""

    texts: BellTexts
    wording: Wording
    hours: LocalHours
    spoken: bool

    def say(self, key: ReminderKey, **values: str) -> str:
        return self.texts.say(key, self.wording.language, **values)

    def time(self, moment: datetime) -> str:
        return self.hours.said(moment) if self.spoken else self.hours.shown(moment)

    def times(self, moments: Sequence[datetime]) -> str:
        """ "at 1:10 AM, at 1:40 AM and at 2:10 AM" """
        told = [self.say(ReminderKey.AT, time=self.time(moment)) for moment in sorted(set(moments))]
        head, last = ", ".join(told[:-1]), told[-1]
        return f"{head} {self.wording.say(HouseKey.AND)} {last}" if head else last

    def length(self, length: timedelta) -> str:
        length = abs(length)
        seconds = length.total_seconds()
        if length >= _HOURS:
            return self.wording.amount(Measure(value=round(seconds / 3600, 1), unit="h"))
        unit, each = ("min", 60) if length >= _MINUTES else ("s", 1)
        return self.wording.amount(Measure(value=round(seconds / each), unit=unit))

    def unseen(self, area: Measure | None) -> str:
        return self.say(ReminderKey.UNSEEN, area=self.wording.rough(area)) if area else ""

    def day(self, moment: datetime) -> str:
        return self.wording.day(moment.astimezone(zone_called(self.hours.zone)).date())
