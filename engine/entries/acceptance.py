"""The limits that decide whether what was heard is kept, asked or not understood; their figures stand in the file."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Self

from pydantic import Field, model_validator

from engine.data.definitions import read_definition
from engine.frozen_model import FrozenModel
from engine.messages import Decision

FILE = Path(__file__).parent / "thresholds.yaml"


class Acceptance(FrozenModel):
    """Confidences from 0 to 1 of the least certain word.

    From ``value_kept`` on a value is kept, below ``value_heard`` nothing was heard, between them it is asked. A value
    inside a usual range is kept from ``usual_kept`` on, one that may be another for its sound from
    ``sound_alike_kept`` on. ``yes_kept`` holds for a yes, ``answer_kept`` for no and choices, ``command_kept`` for
    commands and questions, which are otherwise not understood, and for reports, which are asked from ``report_heard``
    on. From ``repeat_kept`` on a value that was asked counts as said again. ``alternatives`` is how many other readings
    of the recogniser are looked at.
    """

    value_kept: float = Field(ge=0, le=1)
    usual_kept: float = Field(ge=0, le=1)
    value_heard: float = Field(ge=0, le=1)
    sound_alike_kept: float = Field(ge=0, le=1)
    yes_kept: float = Field(ge=0, le=1)
    answer_kept: float = Field(ge=0, le=1)
    command_kept: float = Field(ge=0, le=1)
    report_heard: float = Field(ge=0, le=1)
    repeat_kept: float = Field(ge=0, le=1)
    alternatives: int = Field(ge=0, le=20)

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        limits = (self.value_heard, self.usual_kept, self.value_kept, self.sound_alike_kept)
        if list(limits) != sorted(limits):
            raise ValueError("value_heard, usual_kept, value_kept and sound_alike_kept must not fall in this order")
        if self.report_heard > self.command_kept:
            raise ValueError("report_heard must not be above command_kept")
        return self

    def decide(self, sure: float, alike: bool, expected: bool = False) -> Decision:
        """What to do with a value of this confidence.

        ``alike``: another value sounds like it. ``expected``: it lies inside a usual range.
        """
        if sure < self.value_heard:
            return Decision.UNCLEAR
        needed = self.sound_alike_kept if alike else self.usual_kept if expected else self.value_kept
        return Decision.KEEP if sure >= needed else Decision.ASK


@lru_cache(maxsize=4)
def load_acceptance(path: Path = FILE) -> Acceptance:
    """The limits in a file; DefinitionError says what in it is wrong."""
    return read_definition(path).into(Acceptance)
