"""What can be asked during a shift: how far it is, and which hopper runs out first."""

from __future__ import annotations

from datetime import timedelta

from engine.dialog.house import Key
from engine.dialog.shift.log import Log
from engine.dialog.shift.look import soonest
from engine.dialog.shift.plan import Plan
from engine.dialog.shift.vigil import Vigil
from engine.dialog.walk import Walk
from engine.quantities import measure


def log_of(walk: Walk) -> Log | None:
    """The log of the shift that is under way; None where there is none."""
    plan = Plan.of(walk, Vigil(zone=walk.zone))
    return Log(walk, plan) if plan and walk.dialog.shift else None


def say_status(log: Log) -> None:
    """Since when, how much, and what is noted."""
    started = log.walk.wording.clock(log.shift.started, log.mark.at)
    worked = log.walk.wording.hours(log.mark.worked)
    log.say(Key.SHIFT_STATUS, since=started, area=log.rough(log.mark.planted), hours=worked)
    if log.shift.troubled:
        log.say(Key.SHIFT_STATUS_TROUBLED, rows=log.walk.wording.row_names(sorted(log.shift.troubled)))


def say_run_out(log: Log) -> None:
    """The first hopper to run out, when at this pace, and after how much more."""
    found = soonest(log.shift, log.plan, log.mark)
    if found is None:
        return
    row, length = found
    area = measure(log.plan.pace(log.shift).area(max(length, timedelta())), "acre")
    time = log.walk.wording.clock(log.mark.at + length, log.mark.at)
    log.say(Key.SHIFT_RUN_OUT, row=str(row), time=time, area=log.rough(area))
