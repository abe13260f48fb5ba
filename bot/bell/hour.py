"""Times of day, shown as on the wall and in words as they are said: 1:05 AM, one oh five; la 1:05, la una y cinco."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.bell.texts import BellTexts, ReminderKey
from engine.data.forms import Clock, load_forms
from engine.entries.matching.numerals import spell
from engine.messages import Language, System
from engine.reminders.local_time import zone_called

FAR = timedelta(hours=12)
"""From so far away a time of day alone says nothing."""


@dataclass(frozen=True)
class LocalHours:
    """Moments in one language, system of units and zone, seen from ``now``."""

    texts: BellTexts
    language: Language
    system: System
    zone: str
    now: datetime

    def shown(self, moment: datetime) -> str:
        wall = moment.astimezone(zone_called(self.zone))
        return self._placed(wall, self._clock.shown(wall.hour, wall.minute, self.system))

    def said(self, moment: datetime) -> str:
        """The same in words alone."""
        wall = moment.astimezone(zone_called(self.zone))
        key = (
            ReminderKey.SAID_SHARP
            if wall.minute == 0
            else ReminderKey.SAID_FEW
            if wall.minute < 10
            else ReminderKey.SAID_MINUTES
        )
        hour, minute = self._clock.inflected(spell(self._hour(wall), self.language)), spell(wall.minute, self.language)
        return self._placed(wall, self._say(key, **key.only(hour=hour, minute=minute)))

    def _placed(self, wall: datetime, clock: str) -> str:
        """With the article of its hour, and the day where that is not plain."""
        time = self._say(ReminderKey.ONE_OCLOCK if self._hour(wall) == 1 else ReminderKey.OCLOCK, clock=clock)
        if abs(self.now - wall) < FAR:
            return time
        return self._say(ReminderKey.OF_DAY, time=time, day=self.texts.days.of(self.language)[wall.weekday()])

    def _hour(self, wall: datetime) -> int:
        return self._clock.hour(wall.hour, self.system)

    @property
    def _clock(self) -> Clock:
        return load_forms(self.language).clock

    def _say(self, key: ReminderKey, **values: str) -> str:
        return self.texts.say(key, self.language, **values)
