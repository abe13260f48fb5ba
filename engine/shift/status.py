"""What can be asked during a shift, and how far it is."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import timedelta

from engine.dialog.reply.system_texts import SystemKey
from engine.messages import Asked, Topic
from engine.quantities import measure
from engine.shift import shift_answers
from engine.shift.look import say_why, soonest
from engine.shift.reports.jump import asks_first
from engine.shift.reports.label_reports import say_over
from engine.shift.turn import ShiftTurn


def say_status(turn: ShiftTurn) -> None:
    """Since when, how much, and what is noted."""
    asks_first(turn)
    started = turn.clock(turn.shift.started)
    worked = turn.walk.wording.hours(turn.timeline.worked(turn.now).total_seconds())
    turn.say(SystemKey.SHIFT_STATUS, since=started, area=turn.rough(turn.planted), hours=worked)
    if turn.shift.troubled:
        turn.say(SystemKey.SHIFT_STATUS_TROUBLED, rows=turn.walk.wording.row_names(sorted(turn.shift.troubled)))
    say_over(turn)


def answer(turn: ShiftTurn, asked: Asked) -> bool:
    """Answer a question from the shift; False where it is none of those."""
    asks_first(turn)
    match asked.topic:
        case Topic.RUN_OUT:
            _say_run_out(turn)
        case Topic.WHY if asked.row is None:
            say_why(turn)
        case Topic.MY_VALUES:
            shift_answers.say_told(turn, asked.slot)
        case topic if topic in _ANSWERS:
            _ANSWERS[topic](turn)
        case _:
            return False
    return True


_ANSWERS: Mapping[Topic, Callable[[ShiftTurn], None]] = {
    Topic.ACRES_DONE: shift_answers.say_acres_done,
    Topic.ACRES_LEFT: shift_answers.say_acres_left,
    Topic.STOPPED_ROWS: shift_answers.say_stopped,
    Topic.NEXT_LOOK: shift_answers.say_next_look,
    Topic.WHAT_NEXT: shift_answers.say_what_next,
    Topic.LEFT_TO_DO: shift_answers.say_left_to_do,
    Topic.SPEED_TO_HOLD: shift_answers.say_speed,
}


def _say_run_out(turn: ShiftTurn) -> None:
    """The first hopper to run out, when at this pace, and after how much more."""
    found = soonest(turn.shift, turn.plan, turn.now)
    if found is None:
        return
    row, length = found
    area = measure(turn.timeline.pace(turn.now).area(max(length, timedelta())), "acre")
    turn.say(SystemKey.SHIFT_RUN_OUT, row=str(row), time=turn.clock(turn.now + length), area=turn.rough(area))
