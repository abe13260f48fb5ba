"""Times of day, shown as on the wall and in words as they are said: 1:05 AM, one oh five; la 1:05, la una y cinco."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from bot.bell.texts import BellTexts, Key
from engine.entries.numerals import spell
from engine.messages import Language
from engine.reminders.wall import zone_called

FAR = timedelta(hours=12)
"""From so far away a time of day alone says nothing."""


@dataclass(frozen=True)
class Hours:
    """Moments in one language and zone, seen from ``now``: English counts twelve hours, Spanish twenty-four."""

    texts: BellTexts
    language: Language
    zone: str
    now: datetime

    def shown(self, moment: datetime) -> str:
        wall = moment.astimezone(zone_called(self.zone))
        half = (" AM" if wall.hour < 12 else " PM") if self.language == "en" else ""
        return self._placed(wall, f"{self._hour(wall)}:{wall:%M}{half}")

    def said(self, moment: datetime) -> str:
        """The same in words alone."""
        wall = moment.astimezone(zone_called(self.zone))
        key = Key.SAID_SHARP if wall.minute == 0 else Key.SAID_FEW if wall.minute < 10 else Key.SAID_MINUTES
        hour, minute = self._feminine(spell(self._hour(wall), self.language)), spell(wall.minute, self.language)
        return self._placed(wall, self._say(key, **key.only(hour=hour, minute=minute)))

    def _placed(self, wall: datetime, clock: str) -> str:
        """With the article of its hour, and the day where that is not plain."""
        time = self._say(Key.ONE_OCLOCK if self._hour(wall) == 1 else Key.OCLOCK, clock=clock)
        if abs(self.now - wall) < FAR:
            return time
        return self._say(Key.OF_DAY, time=time, day=self.texts.days.of(self.language)[wall.weekday()])

    def _hour(self, wall: datetime) -> int:
        return wall.hour if self.language == "es" else wall.hour % 12 or 12

    def _feminine(self, hour: str) -> str:
        """Hours are feminine in Spanish: la una, las veintiuna."""
        return f"{hour[:-1]}a" if self.language == "es" and hour.endswith("uno") else hour

    def _say(self, key: Key, **values: str) -> str:
        return self.texts.say(key, self.language, **values)
