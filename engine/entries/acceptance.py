"""The limits that decide whether what was heard is kept, asked or not understood; their figures stand in the file."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from engine.definitions import read_definition

FILE = Path(__file__).parent / "thresholds.yaml"


class Acceptance(BaseModel):
    """Confidences from 0 to 1 of the least certain word.

    From ``value_kept`` on a value is kept, below ``value_heard`` nothing was heard, between them it is asked; a word
    with a sound-alike is asked below ``sound_alike_kept``. ``answer_kept`` holds for yes, no and choices and
    ``command_kept`` for commands, which are otherwise not understood. ``alternatives`` is how many other readings of
    the recogniser are looked at.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    value_kept: float = Field(ge=0, le=1)
    value_heard: float = Field(ge=0, le=1)
    sound_alike_kept: float = Field(ge=0, le=1)
    answer_kept: float = Field(ge=0, le=1)
    command_kept: float = Field(ge=0, le=1)
    alternatives: int = Field(ge=0, le=20)

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if not self.value_heard <= self.value_kept <= self.sound_alike_kept:
            raise ValueError("value_heard is at most value_kept, and that at most sound_alike_kept")
        return self


@lru_cache(maxsize=4)
def load_acceptance(path: Path = FILE) -> Acceptance:
    """The limits in a file; DefinitionError says what in it is wrong."""
    return read_definition(path).into(Acceptance)
