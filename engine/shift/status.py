"""What can be asked during a shift: how far it is, which hopper runs out first, and why the next look is when it is."""

from __future__ import annotations

from datetime import timedelta

from engine.dialog.house import Key
from engine.messages import Asked, Topic
from engine.quantities import measure
from engine.shift.label import say_over
from engine.shift.look import say_why, soonest
from engine.shift.turn import ShiftTurn


def say_status(turn: ShiftTurn) -> None:
    """Since when, how much, and what is noted."""
    started = turn.clock(turn.shift.started)
    worked = turn.walk.wording.hours(turn.timeline.worked(turn.now).total_seconds())
    turn.say(Key.SHIFT_STATUS, since=started, area=turn.rough(turn.planted), hours=worked)
    if turn.shift.troubled:
        turn.say(Key.SHIFT_STATUS_TROUBLED, rows=turn.walk.wording.row_names(sorted(turn.shift.troubled)))
    say_over(turn)


def answer(turn: ShiftTurn, asked: Asked) -> bool:
    """Answer a question from the shift; False where it is none of those."""
    match asked.topic:
        case Topic.RUN_OUT:
            _say_run_out(turn)
        case Topic.WHY if asked.row is None:
            say_why(turn)
        case _:
            return False
    return True


def _say_run_out(turn: ShiftTurn) -> None:
    """The first hopper to run out, when at this pace, and after how much more."""
    found = soonest(turn.shift, turn.plan, turn.now)
    if found is None:
        return
    row, length = found
    area = measure(turn.timeline.pace(turn.now).area(max(length, timedelta())), "acre")
    turn.say(Key.SHIFT_RUN_OUT, row=str(row), time=turn.clock(turn.now + length), area=turn.rough(area))
