"""From which side a dial is turned to its new position: always the same one, so that its play does not count."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from engine.calculations.catalogue import formula
from engine.calculations.kinds import PerRow
from engine.errors import InputError
from engine.values import Setting


class DialTurn(StrEnum):
    """How to turn one dial."""

    STAY = "stay"
    UP = "up"
    PAST_AND_UP = "past_and_up"


@dataclass(frozen=True)
class Approach:
    """``from_below`` where at least one row must go below its new position first and come up to it again."""

    outcome: Literal["stay", "up", "from_below"]
    turns: PerRow[DialTurn]


@formula("approach", sources=("SAME-SIDE",))
def approach(settings: PerRow[Setting], next_settings: PerRow[Setting]) -> Approach:
    """How each row's dial is turned so that it comes to its new position from below.

    Up when the new position lies above the old; past it and up again when it lies below; stay when it is the same.
    Both name the same rows. Errors: InputError. Source: SAME-SIDE.
    """
    if set(settings) != set(next_settings):
        raise InputError("the old and the new positions are not of the same rows")
    turns = {row: _turn(settings[row].position, after.position) for row, after in next_settings.items()}
    outcome: Literal["stay", "up", "from_below"] = "up" if DialTurn.UP in turns.values() else "stay"
    return Approach("from_below" if DialTurn.PAST_AND_UP in turns.values() else outcome, turns)


def _turn(before: float, after: float) -> DialTurn:
    if before == after:
        return DialTurn.STAY
    return DialTurn.UP if after > before else DialTurn.PAST_AND_UP
