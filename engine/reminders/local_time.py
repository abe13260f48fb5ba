"""Moments as the clock on a farm's wall shows them, and the one instant each of them is.

A time that the clock skips in spring is taken as that much later (02:30 becomes 03:30); of a time that it shows twice
in autumn the first is meant unless ``second`` is set.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from engine.errors import InputError


@cache
def zone_called(name: str) -> ZoneInfo:
    """The time zone with this IANA name; InputError where there is none."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise InputError(f"{name!r} is not a time zone: name one like America/Chicago") from error


@dataclass(frozen=True)
class LocalTime:
    """A date and time without offset, the zone it is shown in, and whether it is the second time it is shown."""

    local: datetime
    zone: str
    second: bool = False

    def __post_init__(self) -> None:
        if self.local.tzinfo is not None:
            raise InputError("a time on the wall has no offset of its own")

    @classmethod
    def of(cls, instant: datetime, zone: str) -> LocalTime:
        """How the wall shows an instant."""
        shown = instant.astimezone(zone_called(zone))
        return cls(shown.replace(tzinfo=None, fold=0), zone, bool(shown.fold))

    @property
    def instant(self) -> datetime:
        """The moment in UTC."""
        return self.local.replace(tzinfo=zone_called(self.zone), fold=int(self.second)).astimezone(UTC)
