"""What is asked during a shift: how far it is, acres, rows that are down, the next look, what to do, what was told."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import timedelta

from engine.calculations.domain import number
from engine.calculations.runs.calibration import speed_within
from engine.dialog.questions.knowledge import say_values
from engine.dialog.questions.row_answers import say_left_out
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Role
from engine.messages import Asked, Report, Topic
from engine.quantities import Measure, measure
from engine.shift.look import look_prompt, say_why, soonest
from engine.shift.reports.change_reports import meter
from engine.shift.reports.jump import asks_first
from engine.shift.reports.label_reports import say_over
from engine.shift.reports.suspect_rows import wrong_alike
from engine.shift.turn import ShiftTurn
from engine.values import Value

_ROLES = (Role.PRODUCT, Role.LOT, Role.RATE, Role.SPEED, Role.FIELD)
"""What a report changes, as it was told before."""


def answer(turn: ShiftTurn, asked: Asked) -> bool:
    """Answer a question from the shift; False where it is none of those."""
    asks_first(turn)
    match asked.topic:
        case Topic.RUN_OUT:
            _say_run_out(turn)
        case Topic.WHY if asked.row is None:
            say_why(turn)
        case Topic.MY_VALUES:
            say_told(turn, asked.slot)
        case topic if topic in _ANSWERS:
            _ANSWERS[topic](turn)
        case _:
            return False
    return True


def say_status(turn: ShiftTurn) -> None:
    """Since when, how much, and what is noted."""
    asks_first(turn)
    started = turn.clock(turn.shift.started)
    worked = turn.builder.wording.hours(turn.timeline.worked(turn.now).total_seconds())
    turn.say(SystemKey.SHIFT_STATUS, since=started, area=turn.rough(turn.planted), hours=worked)
    if turn.shift.troubled:
        turn.say(SystemKey.SHIFT_STATUS_TROUBLED, rows=turn.builder.wording.row_names(sorted(turn.shift.troubled)))
    say_over(turn)


def _say_run_out(turn: ShiftTurn) -> None:
    """The first hopper to run out, when at this pace, and after how much more."""
    found = soonest(turn.shift, turn.plan, turn.now)
    if found is None:
        return
    row, length = found
    area = measure(turn.timeline.pace(turn.now).area(max(length, timedelta())), "acre")
    turn.say(SystemKey.SHIFT_RUN_OUT, row=str(row), time=turn.clock(turn.now + length), area=turn.rough(area))


# ---------------------------------------------------------------- acres


def say_acres_done(turn: ShiftTurn) -> None:
    """The acres since the shift began, and what they rest on."""
    told = turn.shift.told[-1] if turn.shift.told else None
    if told is None:
        turn.say(AnswerKey.ACRES_BY_CLOCK, area=turn.rough(turn.planted))
    else:
        said, time = turn.builder.wording.echo(told.area), turn.clock(told.at)
        turn.say(AnswerKey.ACRES_AS_TOLD, area=turn.rough(turn.planted), said=said, time=time)


def say_acres_left(turn: ShiftTurn) -> None:
    """What of the field is not planted yet, and how long that takes at this pace."""
    size, left = turn.plan.field_size(turn.shift), turn.plan.field_left(turn.shift, turn.now)
    if size is None or left is None:
        turn.say(AnswerKey.FIELD_SIZE_UNKNOWN)
        say_acres_done(turn)
        return
    whole = turn.builder.wording.echo(size)
    if left.value <= 0:
        turn.say(AnswerKey.FIELD_DONE, size=whole)
        return
    hour = measure(turn.timeline.pace(turn.now).area(timedelta(hours=1)), "acre").value
    turn.say(AnswerKey.FIELD_LEFT, area=turn.rough(left), size=whole)
    if hour > 0:
        turn.say(AnswerKey.FIELD_TIME, time=turn.builder.wording.hours(left.to("acre").value / hour * 3600))


# ---------------------------------------------------------------- rows


def say_stopped(turn: ShiftTurn) -> None:
    """The rows that are down or high and since when, those left out, and those that do not plant."""
    shift, before = turn.shift, len(turn.builder.lines)
    for what, rows in wrong_alike(dict(sorted(shift.troubled.items()))):
        since = {row: shift.stretches.get(row) or shift.proofs[row] for row in rows}
        for moment in dict.fromkeys(since.values()):
            place, time = turn.place(tuple(row for row in rows if since[row] == moment)), turn.clock(moment)
            turn.say(
                AnswerKey.ROWS_STOPPED_SINCE if what is Report.STOPPED else AnswerKey.ROWS_HIGH_SINCE,
                place=place,
                time=time,
            )
    say_left_out(turn.builder)
    count, out = turn.plan.given.get(Role.ROWS), turn.builder.state.book.left_out
    every = range(1, count + 1) if isinstance(count, int) else ()
    off = [row for row in every if row not in shift.proofs and row not in out]
    if off:
        turn.say(AnswerKey.ROWS_OFF, rows=turn.builder.wording.row_names(off))
    if len(turn.builder.lines) == before:
        turn.say(AnswerKey.NO_ROW_DOWN)


# ---------------------------------------------------------------- what is to be done


def say_next_look(turn: ShiftTurn) -> None:
    """Why the next look is when it is; when it is stands at the end of the reply, but for a question that is open."""
    if turn.builder.questions:
        turn.builder.lines.append(look_prompt(turn.shift, turn.builder.wording, turn.builder.now))
    if turn.shift.runs and turn.shift.look is not None and turn.shift.look.due is not None:
        say_why(turn)
    else:
        turn.say(AnswerKey.NO_LOOK_STANDING)


def say_what_next(turn: ShiftTurn) -> None:
    """What to do now: stop over the label, mend a row, plant on, or close the books."""
    shift = turn.shift
    if turn.builder.questions:
        turn.say(AnswerKey.ANSWER_THIS)
    elif shift.over is not None:
        say_over(turn)
    elif shift.closing:
        turn.say(AnswerKey.CLOSE_BOOKS)
    elif shift.troubled:
        row = min(shift.troubled)
        turn.say(AnswerKey.MEND_FIRST, rows=turn.builder.wording.row_names(sorted(shift.troubled)))
        turn.say(SystemKey.SHIFT_INSPECT, row=str(row))
    else:
        turn.say(AnswerKey.PLANT_ON if shift.runs else AnswerKey.STANDS_STILL)


def say_left_to_do(turn: ShiftTurn) -> None:
    """The field that is left, and the rows that nobody said to feed again."""
    if turn.shift.closing:
        turn.say(AnswerKey.CLOSE_BOOKS)
    elif turn.plan.field_size(turn.shift) is not None:
        say_acres_left(turn)
    if turn.shift.troubled:
        rows = turn.builder.wording.row_names(sorted(turn.shift.troubled))
        turn.say(SystemKey.SHIFT_STATUS_TROUBLED, rows=rows)
    elif not turn.shift.closing:
        turn.say(AnswerKey.NO_ROW_DOWN)


# ---------------------------------------------------------------- what was told


def say_speed(turn: ShiftTurn) -> None:
    """The speed that was calibrated, how far off it may be, and what was told since."""
    within = turn.builder.wording.amount(Measure(value=number(speed_within(meter(turn))) * 100, unit="%"), 0)
    calibrated, now = turn.plan.calibrated_speed, turn.timeline.speed(turn.now)
    turn.say(AnswerKey.HOLD_CALIBRATED, speed=turn.rough(calibrated), within=within)
    if turn.rough(now) != turn.rough(calibrated):
        turn.say(AnswerKey.SPEED_TOLD, speed=turn.rough(now))


def say_told(turn: ShiftTurn, slot: str | None) -> None:
    """What was told for this shift, with what has changed since."""
    found = {role: turn.shift.now.get(str(role)) for role in _ROLES}
    now: dict[Role, Value] = {role: value for role, value in found.items() if value is not None}
    planned = turn.plan.measure(Role.PLANNED)
    if planned is not None:
        now.setdefault(Role.SPEED, planned)
    say_values(turn.builder, slot, now)


_ANSWERS: Mapping[Topic, Callable[[ShiftTurn], None]] = {
    Topic.ACRES_DONE: say_acres_done,
    Topic.ACRES_LEFT: say_acres_left,
    Topic.STOPPED_ROWS: say_stopped,
    Topic.NEXT_LOOK: say_next_look,
    Topic.WHAT_NEXT: say_what_next,
    Topic.LEFT_TO_DO: say_left_to_do,
    Topic.SPEED_TO_HOLD: say_speed,
}
