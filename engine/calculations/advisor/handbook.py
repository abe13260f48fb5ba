"""The handbook rule: each row's dial moved by its last catch alone, new = old x target / caught.

Published instructions give no other rule than to try, weigh and try again (common practice, no source); it chases the
noise of single catches and stays for comparison and for those who want it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any, cast

from engine.calculations.advisor.verdict import AGAIN, LOST, Advice, Move, Verdict
from engine.calculations.catalogue import formula
from engine.calculations.domain import at_most, not_negative, number, positive, tolerance_of
from engine.calculations.kinds import EveryRun, Mass, Ratio
from engine.errors import InputError
from engine.quantities import quantity
from engine.values import Dial, Setting


@dataclass(frozen=True)
class _Judged:
    verdict: Verdict
    setting: Setting
    error: float | None = None


@formula("handbook-advice", sources=("HANDBOOK-RULE", "PES-BAND", "GA-2020"))
def handbook_advice(
    caught: EveryRun[Mass], settings: EveryRun[Setting], target: Mass, tolerance: Ratio, dial: Dial
) -> Advice:
    """Next position per row from its last catch at its present setting: new = old x target / caught.

    A row within ``tolerance`` [%] of ``target`` [g, oz] is on target. A row whose wanted position lies nearest to the
    notch it is on is at its closest notch. A row with no catch at its present setting is to be run again. A row that
    gave nothing, or wants to go past the end of the dial it is at, is one that the rule cannot tell about. The rows are
    those with a setting. Marks count from 1, so that the lowest mark too can move.
    Valid: target above zero, catches zero or above, tolerance above 0 and below 100 %. Errors: OutOfDomain; InputError
    for a catch of a row without a setting. Sources: HANDBOOK-RULE, PES-BAND, GA-2020.
    """
    positive("target", target)
    allowed = tolerance_of(tolerance)
    present = {row: setting for run in settings for row, setting in run.items()}
    last = _last_catches(caught, settings)
    judged = {
        row: _judge(last[row] / target, setting, allowed, dial) if row in last else _Judged(Verdict.RUN_AGAIN, setting)
        for row, setting in sorted(present.items())
    }
    return Advice(
        outcome=overall([one.verdict for one in judged.values()]),
        verdicts={row: one.verdict for row, one in judged.items()},
        next_settings={row: one.setting for row, one in judged.items()},
        errors={row: quantity(one.error, "1") for row, one in judged.items() if one.error is not None},
    )


def overall(verdicts: Collection[Verdict]) -> Move:
    """What the whole planter needs next, from the verdicts of its rows."""
    if Verdict.ADJUST in verdicts:
        return "adjust"
    if not verdicts or AGAIN & set(verdicts):
        return "run_again"
    return "cannot_tell" if LOST & set(verdicts) else "settled"


def _last_catches(caught: EveryRun[Mass], settings: EveryRun[Setting]) -> dict[int, Mass]:
    """The last catch of each row, dropped again where its dial was moved after it."""
    last: dict[int, Mass] = {}
    present: dict[int, Setting] = {}
    for moved, catches in zip_longest(settings, caught, fillvalue=cast(Mapping[int, Any], {})):
        last = {row: catch for row, catch in last.items() if moved.get(row, present[row]) == present[row]}
        present |= moved
        for row, catch in catches.items():
            if row not in present:
                raise InputError(f"row {row} has a catch but no setting")
            last[row] = not_negative(f"row {row}", catch)
    return last


def _judge(share: Ratio, setting: Setting, allowed: float, dial: Dial) -> _Judged:
    given = number(share)
    error = given - 1
    if at_most(abs(error), allowed):
        return _Judged(Verdict.ON_TARGET, setting, error)
    if given == 0:
        return _Judged(Verdict.CANNOT_TELL, setting, error)
    wanted = _wanted(setting, given, dial)
    nearest = dial.setting(wanted)
    if nearest != setting:
        return _Judged(Verdict.ADJUST, nearest, error)
    on_the_dial = at_most(abs(wanted - nearest.position), dial.step / 2)
    return _Judged(Verdict.CLOSEST_NOTCH if on_the_dial else Verdict.CANNOT_TELL, setting, error)


def _wanted(setting: Setting, given: float, dial: Dial) -> float:
    """The position that the rule asks for, on the dial or past its ends."""
    zero = -1.0 if dial.marks else min(dial.low, 0.0)
    reading = setting.position - zero
    if reading <= 0:
        return setting.position + math.copysign(dial.step, 1 - given)
    return zero + reading / given
