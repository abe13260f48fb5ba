"""Many simulated nights with each way of reminding, and what they come to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import assert_never

import numpy as np

from engine.database import open_database
from engine.simulation.night import Night, NightModel, draw_night
from engine.simulation.operator import SimulatedOperator
from engine.simulation.reminding import HABIT_HOURS, Habit
from engine.simulation.watching import Played, Watching


class NightPolicy(StrEnum):
    """With the assistant, by its default plan; every two hours; or only when hoppers are refilled."""

    RISK = "risk"
    HABIT = "habit"
    NONE = "none"


@dataclass(frozen=True)
class Toll:
    """What nights with one way of reminding come to; ``false_alarms``: rows told high or named that fed right."""

    acres_median: float
    acres_p95: float
    checks_per_night: float
    false_alarms_per_night: float


@dataclass(frozen=True)
class UnderfeedNaming:
    """How rows that under-feed are found by their use: share named at the first or second refill after it began."""

    named_within_two_refills: float
    named_within_one_refill: float
    false_alarms_per_night: float


def play(night: Night, policy: NightPolicy, *, mend: bool = True) -> Played:
    """One night with one way of reminding."""
    match policy:
        case NightPolicy.RISK:
            return _assisted(night, 1, mend=mend)
        case NightPolicy.HABIT:
            return Watching(night, Habit(HABIT_HOURS), 2, mend=mend).play()
        case NightPolicy.NONE:
            return Watching(night, Habit(None), 3, mend=mend).play()
        case _:
            assert_never(policy)


def play_all(shift: NightModel, nights: int, seed: int) -> dict[NightPolicy, Toll]:
    """The same nights with each way of reminding."""
    drawn = [draw_night(shift, seed, index) for index in range(nights)]
    return {policy: toll([play(night, policy) for night in drawn]) for policy in NightPolicy}


def name_all(shift: NightModel, nights: int, seed: int) -> UnderfeedNaming:
    """Nights in which a row under-feeds and nobody mends it, whatever the eye sees."""
    drawn = [draw_night(shift, seed, index) for index in range(nights)]
    played = [_assisted(night, 4, looks=False, mend=False) for night in drawn]
    return UnderfeedNaming(
        float(np.mean([(one.named_after or 99) <= 2 for one in played])),
        float(np.mean([(one.named_after or 99) <= 1 for one in played])),
        float(np.mean([one.named_wrong for one in played])),
    )


def toll(played: Sequence[Played]) -> Toll:
    acres = np.array([one.in_doubt for one in played])
    return Toll(
        float(np.median(acres)),
        float(np.quantile(acres, 0.95)),
        float(np.mean([one.checks for one in played])),
        float(np.mean([one.false_alarms + one.named_wrong for one in played])),
    )


def _assisted(night: Night, stream: int, *, looks: bool = True, mend: bool = True) -> Played:
    """With the assistant, on a record of its own: it opens in milliseconds, and one that grows is slower than that."""
    database = open_database(":memory:")
    try:
        return Watching(night, SimulatedOperator(night, database, looks=looks), stream, mend=mend).play()
    finally:
        database.close()
