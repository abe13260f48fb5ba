"""The course of a shift: acres done, pauses, another operator, later looks, the end."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise

from engine.calculations.hoppers.stopped import reachable_area
from engine.calculations.kinds import Speed
from engine.clock import ClockTime
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.script import LEFT_OVER, Watch
from engine.messages import Report, Reported
from engine.quantities import Measure, measure, quantity
from engine.shift.record.shift_state import FINISHED
from engine.shift.reports.label_reports import say_over
from engine.shift.reports.suspect_rows import doubt, latest, say, wrong_alike
from engine.shift.reports.times import span_of, upcoming
from engine.shift.turn import ShiftTurn
from engine.values import Rows

LONGEST_WAIT = Measure(value=24.0, unit="h")
"""Nobody puts a look off for longer (own decision); what was heard as more is read back as this."""
LONG_WAIT = Measure(value=3.0, unit="h")
"""A look put off by more than this is asked about: a weight may have been heard as hours (own decision)."""
SNOOZE = Measure(value=10.0, unit="min")
DECIMALS = 1

END = Reported(report=Report.ENDED)
GO_ON = Reported(report=Report.WENT_ON)


# ---------------------------------------------------------------- acres


def planted(turn: ShiftTurn, told: Reported) -> None:
    """Acres done since the shift began: the timeline is set right, and the field efficiency learns from it."""
    if not isinstance(told.value, Measure):
        return
    acres, said = told.value.to("acre"), turn.builder.wording.echo(told.value)
    last = turn.shift.told[-1] if turn.shift.told else None
    if last and acres.value < last.area.to("acre").value:
        turn.say(SystemKey.SHIFT_LESS_PLANTED, said=said, before=turn.rough(last.area))
        return
    most = _most(turn)
    if acres.value > most.value and not told.confirmed:
        turn.ask(SystemKey.SHIFT_MORE_PLANTED, told, said=said, most=turn.rough(most))
        return
    turn.note(told)
    turn.say(SystemKey.SHIFT_PLANTED_IN_ALL if turn.shift.moved else SystemKey.SHIFT_PLANTED, area=said)
    left = turn.plan.field_left(turn.shift, turn.now)
    if left is not None and left.value > 0:
        turn.say(SystemKey.SHIFT_FIELD_LEFT, area=turn.rough(left))


def _most(turn: ShiftTurn) -> Measure:
    """Area that this planter can have done by now without ever turning or stopping since the area was last told."""
    last = turn.shift.told[-1] if turn.shift.told else None
    since = last.at if last else turn.shift.started
    worked = turn.timeline.worked(turn.now) - turn.timeline.worked(since)
    seconds = quantity(max(worked.total_seconds(), 1.0), "s")
    could = reachable_area(turn.timeline.width, _mean_speed(turn, since, worked), seconds)
    before = last.area.to("acre").value if last else 0.0
    return Measure(value=before + measure(could, "acre").value, unit="acre")


def _mean_speed(turn: ShiftTurn, since: datetime, worked: timedelta) -> Speed:
    """The speed driven since an instant, on the average of the time at work."""
    timeline, seconds = turn.timeline, worked.total_seconds()
    if seconds <= 0:
        return timeline.speed(turn.now).quantity
    mean: Speed = timeline.capacity(since, turn.now).quantity / timeline.width / quantity(seconds, "s")
    return mean


def remaining(turn: ShiftTurn, told: Reported) -> None:
    """Acres of the field that are still to be planted, where its size is known: the others are done."""
    size, left = turn.plan.field_size(turn.shift), told.value
    if size is None or not isinstance(left, Measure):
        turn.say(SystemKey.SHIFT_FIELD_UNKNOWN)
        return
    left = left.model_copy(update={"unit": size.unit}) if left.unit == "1" else left
    done = size.to("acre").value - left.to("acre").value
    if done < 0:
        turn.say(SystemKey.SHIFT_FIELD_SMALLER, said=turn.builder.wording.echo(left), size=turn.rough(size))
        return
    area = Measure(value=_with_done(turn, done), unit="acre").to(size.unit)
    area = area.model_copy(update={"value": round(area.value, DECIMALS)})
    if area.to("acre").value > _most(turn).value:
        turn.say(SystemKey.SHIFT_FIELD_EARLY, said=turn.builder.wording.echo(left), size=turn.rough(size))
        return
    planted(turn, told.model_copy(update={"report": Report.PLANTED, "value": area}))


def _with_done(turn: ShiftTurn, acres: float) -> float:
    """Acres of the whole shift where so many are done in its present field: since the area was last told planting went
    evenly before this field and in it."""
    last = turn.shift.told[-1] if turn.shift.told else None
    told = last.area.to("acre").value if last else 0.0
    entered = turn.timeline.planted(turn.shift.entered).to("acre").value
    gone = turn.planted.to("acre").value
    if entered <= told or gone <= entered:
        return entered + acres
    return told + (gone - told) * acres / (gone - entered)


# ---------------------------------------------------------------- standing and going


def paused(turn: ShiftTurn, told: Reported) -> None:
    stood = turn.shift.stood
    if stood and turn.past and turn.past >= stood:
        turn.say(SystemKey.SHIFT_STANDS, time=turn.clock(stood))
    elif _stops(turn, told):
        turn.say(SystemKey.SHIFT_PAUSED, time=turn.clock(turn.when))
        _say_by_then(turn)


def went_on(turn: ShiftTurn, told: Reported) -> None:
    if turn.shift.over is not None:
        say_over(turn)
        return
    if turn.shift.runs:
        turn.say(SystemKey.SHIFT_RUNS_ALREADY)
        return
    if turn.shift.stood and turn.refuses(turn.shift.stood):
        return
    turn.note(told)
    turn.say(SystemKey.SHIFT_WENT_ON, time=turn.clock(turn.when))


def _stops(turn: ShiftTurn, told: Reported) -> bool:
    """Note that the planter stands since the moment said; False where that is before it last began to plant."""
    if turn.refuses(turn.shift.planting_since):
        return False
    turn.note(told)
    return True


def _say_by_then(turn: ShiftTurn) -> None:
    """What was done and what is in doubt by a moment in the past at which planting stopped."""
    if turn.past is None:
        return
    turn.say(SystemKey.SHIFT_BY_THEN, area=turn.rough(turn.planted))
    beyond = [one for one in turn.shift.doubts if one.until > turn.past]
    for one in latest(beyond, turn.timeline):
        say(turn, one)


def interlude(turn: ShiftTurn, told: Reported) -> None:
    """A pause that is told once it is over; the one that is still noted may be the one that is meant."""
    span, stood = span_of(turn, told), turn.shift.stood
    if span is None:
        return
    since, until = span
    if stood and until > stood:
        _ends_now(turn, told, since, until)
        return
    if _planted_meanwhile(turn, since, until):
        turn.say(SystemKey.SHIFT_PAUSE_PLANTED, since=turn.clock(since), until=turn.clock(until))
        return
    turn.past = since
    turn.note(told, until=until)
    turn.past = None
    area = turn.rough(turn.planted)
    turn.say(SystemKey.SHIFT_PAUSE_KEPT, since=turn.clock(since), until=turn.clock(until), area=area)
    if any(one.until > since for one in latest(turn.shift.doubts, turn.timeline)):
        turn.say(SystemKey.SHIFT_DOUBT_ANEW)


def _ends_now(turn: ShiftTurn, told: Reported, since: datetime, until: datetime) -> None:
    stood = turn.shift.stood
    if turn.shift.closing and stood:
        turn.say(SystemKey.SHIFT_STANDS, time=turn.clock(stood))
        return
    if stood and since < stood:
        turn.past = since
        paused(turn, told.model_copy(update={"until": None}))
    turn.past = until
    went_on(turn, told.model_copy(update={"report": Report.WENT_ON, "until": None}))
    turn.past = None


def _planted_meanwhile(turn: ShiftTurn, since: datetime, until: datetime) -> bool:
    """Whether the operator said areas that can only have been planted in a pause."""
    told = [(turn.shift.started, 0.0), *((one.at, one.area.to("acre").value) for one in turn.shift.told)]
    inside = [acres for at, acres in told if since <= at <= until]
    between = [later - acres for acres, later in pairwise(inside)]
    return any(grown > 0 for grown in between)


# ---------------------------------------------------------------- people, looks, the end


def handed_over(turn: ShiftTurn, told: Reported) -> None:
    turn.note(told)
    if isinstance(told.value, str):
        turn.say(SystemKey.SHIFT_HANDED, name=told.value)
    else:
        turn.say(SystemKey.SHIFT_HANDED_OVER, time=turn.clock(turn.when))
    if turn.past is not None and told.value is not None:
        turn.say(SystemKey.SHIFT_AS_OF, time=turn.clock(turn.past))


def snoozed(turn: ShiftTurn, told: Reported) -> None:
    """Later: the reminder rings again when it was said to, within a day, and the area that goes by until then is
    told."""
    length = told.value if isinstance(told.value, Measure) else SNOOZE
    if length.to("s").value > LONGEST_WAIT.to("s").value:
        length = LONGEST_WAIT
    if isinstance(told.when, ClockTime):
        until = upcoming(told.when, turn.shift.wall(turn.now), turn.builder.zone)
        length = Measure(value=(until - turn.shift.wall(turn.now)).total_seconds(), unit="s")
    if length.to("s").value > LONG_WAIT.to("s").value and not told.confirmed:
        at = turn.clock(turn.now + timedelta(seconds=length.to("s").value))
        turn.ask(SystemKey.SHIFT_LONG_WAIT, told, time=at)
        return
    look = turn.shift.look
    ahead = (look.due - turn.now).total_seconds() if look and look.due else 0.0
    turn.note(told, value=length if length.to("s").value >= ahead else Measure(value=ahead, unit="s"))


def ended(turn: ShiftTurn, told: Reported) -> None:
    """Planting is over: first the hoppers are asked for, then the shift ends."""
    if not turn.shift.closing or turn.past is not None:
        if _stops(turn, told):
            turn.say(SystemKey.SHIFT_CLOSING, time=turn.clock(turn.shift.stood or turn.now))
            _say_by_then(turn)
            still_doubted(turn)
        return
    turn.note(told, value=FINISHED)
    _leave(turn)
    hours = turn.timeline.worked(turn.now).total_seconds()
    turn.say(SystemKey.SHIFT_OVER, area=turn.rough(turn.planted), hours=turn.builder.wording.hours(hours))
    for one in latest(turn.shift.doubts, turn.timeline):
        since, until = (turn.clock(at) for at in (one.since, one.until))
        rows = turn.builder.wording.row_names(one.rows)
        turn.say(SystemKey.SHIFT_SCOUT, rows=rows, since=since, until=until, area=turn.rough(one.area))


def still_doubted(turn: ShiftTurn) -> None:
    """Rows that were never said to feed again are in doubt until the end."""
    for what, rows in wrong_alike(dict(sorted(turn.shift.troubled.items()))):
        turn.say(SystemKey.SHIFT_NOT_MENDED, place=turn.place(rows))
        doubt(turn, rows, what, turn.shift.proofs, turn.now)


def _leave(turn: ShiftTurn) -> None:
    """Work out what is in the hoppers at the end, under the names that the watch gives it."""
    builder, shift, now = turn.builder, turn.shift, turn.now
    step = builder.script.step(builder.dialog.step)
    if not isinstance(step, Watch) or not step.into:
        return
    contents: Rows = dict(turn.plan.contents(shift, now))
    full: Rows = {row: one.mass for row, one in shift.filled.items()}
    reckoned: Rows = {row: turn.plan.use(shift, row, now) for row in shift.rows}
    builder.compute(
        builder.dialog.step, LEFT_OVER, {"contents": contents, "full": full, "reckoned": reckoned}, step.into
    )
