"""When something happened, as it was said: a time on the clock, or how long ago."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from engine.frozen_model import FrozenModel
from engine.quantities import Measure


class ClockTime(FrozenModel):
    """A time of day. ``twice``: no half of the day was said, so that it may be twelve hours later as well."""

    kind: Literal["clock"] = "clock"
    hour: int = Field(ge=0, le=23)
    minute: int = Field(default=0, ge=0, le=59)
    twice: bool = False

    def __str__(self) -> str:
        return f"{self.hour}:{self.minute:02d}{'?' if self.twice else ''}"


class Ago(FrozenModel):
    """So long before it was said; ``length`` is a time."""

    kind: Literal["ago"] = "ago"
    length: Measure

    def __str__(self) -> str:
        return f"{self.length} ago"


Moment = Annotated[ClockTime | Ago, Field(discriminator="kind")]
"""A moment in the words of an operator. Which instant that is depends on when and where it was said."""
