"""The course of a shift: acres done, pauses, another operator, later looks, the end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from engine.clock import ClockTime
from engine.dialog.house import Key
from engine.dialog.shift.doubt import OF_ROWS, doubt, scaled, wrong_alike
from engine.dialog.shift.fact import Doubted, Proof
from engine.dialog.shift.learning import learned
from engine.dialog.shift.leftover import leave
from engine.dialog.shift.log import Log
from engine.dialog.shift.moment import upcoming
from engine.dialog.shift.progress import back_at
from engine.dialog.shift.state import OVER, Shift
from engine.messages import Report, Reported
from engine.quantities import Measure, measure, quantity

SNOOZE = Measure(value=10.0, unit="min")
DECIMALS = 1
SLACK, LEAST_ACRES = 1.25, 1.0
"""An area up to this much more than the planter can do is taken: clocks, widths and memory are not exact."""


def planted(log: Log, told: Reported) -> None:
    """Acres done since the shift began: the reckoning is set right, and the field efficiency learns from it."""
    if not isinstance(told.value, Measure):
        return
    acres, said = told.value.to("acre"), log.walk.wording.echo(told.value)
    least = log.shift.measured.planted
    if acres.value < least.value:
        log.say(Key.SHIFT_LESS_PLANTED, said=said, before=log.rough(least))
        return
    most = least.value + _most(log)
    if _is_beyond(acres, most):
        log.say(Key.SHIFT_MORE_PLANTED, said=said, most=log.rough(Measure(value=most, unit="acre")))
        return
    reckoned, before = log.mark, log.shift
    mark = reckoned.model_copy(update={"planted": acres})
    gone = timedelta(seconds=mark.worked - before.measured.worked)
    efficiency = learned(log, before.efficiency, acres.value - least.value, gone)
    log.note(told, mark=mark, efficiency=efficiency, reckoned=reckoned.planted)
    _set_right(log, before, reckoned)
    log.say(Key.SHIFT_PLANTED_IN_ALL if log.shift.moved else Key.SHIFT_PLANTED, area=said)
    left = log.plan.field_left(log.shift, acres)
    if left is not None and left.value > 0:
        log.say(Key.SHIFT_FIELD_LEFT, area=log.rough(left))


def remaining(log: Log, told: Reported) -> None:
    """Acres of the field that are still to be planted, where its size is known: the others are done."""
    size, left = log.plan.field_size(log.shift), told.value
    if size is None or not isinstance(left, Measure):
        log.say(Key.SHIFT_FIELD_UNKNOWN)
        return
    left = left.model_copy(update={"unit": size.unit}) if left.unit == "1" else left
    acres = size.to("acre").value - left.to("acre").value
    if acres < 0:
        log.say(Key.SHIFT_FIELD_SMALLER, said=log.walk.wording.echo(left), size=log.rough(size))
        return
    area = Measure(value=_with_done(log, acres), unit="acre").to(size.unit)
    area = area.model_copy(update={"value": round(area.value, DECIMALS)})
    if _is_beyond(area.to("acre"), log.shift.measured.planted.value + _most(log)):
        log.say(Key.SHIFT_FIELD_EARLY, said=log.walk.wording.echo(left), size=log.rough(size))
        return
    planted(log, told.model_copy(update={"report": Report.PLANTED, "value": area}))


def _is_beyond(acres: Measure, most: float) -> bool:
    return acres.value > most * SLACK + LEAST_ACRES


def _with_done(log: Log, acres: float) -> float:
    """Acres of the whole shift where so many are done in its present field: since the area was last told planting went
    evenly before this field and in it."""
    told, entered = log.shift.measured.planted.value, log.shift.entered.value
    gone = log.mark.planted.value
    if entered <= told or gone <= entered:
        return entered + acres
    return told + (gone - told) * acres / (gone - entered)


def _set_right(log: Log, before: Shift, reckoned: Proof) -> None:
    """Doubtful stretches since the area was last told grow or shrink with it."""
    told = before.measured.planted.value
    gone = reckoned.planted.value - told
    scale = (log.mark.planted.value - told) / gone if gone > 0 else 1.0
    for one in log.shift.doubts:
        since_told = back_at(before, log.plan, one.until).planted.value - told
        part = min(max(since_told / one.planted.value, 0.0), 1.0) if one.planted.value > 0 else 0.0
        factor = 1 + (scale - 1) * part
        if factor != 1:
            log.walk.add(scaled(one, factor, "planted", *OF_ROWS))


def _most(log: Log) -> float:
    """Acres that this planter can do without ever stopping or turning since the area was last told."""
    full = replace(log.plan.pace(log.shift), efficiency=quantity(1, "1"))
    return measure(full.area(timedelta(seconds=log.mark.worked - log.shift.measured.worked)), "acre").value


def paused(log: Log, told: Reported) -> None:
    stood = log.shift.stood
    if stood and log.past and log.past.at >= stood:
        log.say(Key.SHIFT_STANDS, time=log.walk.wording.clock(stood, log.mark.at))
    elif _stops(log, told):
        log.say(Key.SHIFT_PAUSED, time=log.clock(log.moment))
        _say_by_then(log)
        _right_again(log)


def went_on(log: Log, told: Reported) -> None:
    if log.shift.runs:
        log.say(Key.SHIFT_RUNS_ALREADY)
        return
    if log.shift.stood and log.refuses(log.shift.stood):
        return
    log.note(told, mark=_going(log, log.past) if log.past else None)
    log.say(Key.SHIFT_WENT_ON, time=log.clock(log.moment))


def _stops(log: Log, told: Reported) -> bool:
    """Note that the planter stands since the moment said; False where that is before it last began to plant."""
    if log.refuses(log.shift.planting_since):
        return False
    log.note(told, mark=_standing(log, log.past) if log.past else None)
    return True


def _standing(log: Log, past: Proof) -> Proof:
    """Where planting stopped in the past: never with less area than was told, nor with more once it stands already."""
    told = log.shift.measured.planted
    if log.shift.stood and past.at >= log.shift.stood:
        return log.shift.mark.model_copy(update={"at": past.at})
    return past if past.planted.value >= told.value else past.model_copy(update={"planted": told})


def _going(log: Log, past: Proof) -> Proof:
    """Where planting went on in the past; an area that was told since then holds the planting until it was told."""
    mark, told = log.shift.mark, log.shift.measured
    late = max((told.at - past.at).total_seconds(), 0.0)
    return mark.model_copy(update={"at": max(past.at, told.at), "worked": mark.worked + late})


def _say_by_then(log: Log) -> None:
    if log.past is not None:
        log.say(Key.SHIFT_BY_THEN, area=log.rough(log.shift.mark.planted))


def _right_again(log: Log) -> None:
    """Doubtful stretches that reached beyond the moment at which planting stopped end there."""
    if log.past is None:
        return
    beyond = {row for one in latest(log.shift.doubts) for row in one.rows if one.until > log.past.at}
    for what, rows in wrong_alike({row: one for row, one in sorted(log.shift.troubled.items()) if row in beyond}):
        doubt(log, rows, what, log.shift.proofs, log.shift.mark)


def handed_over(log: Log, told: Reported) -> None:
    log.note(told)
    if isinstance(told.value, str):
        log.say(Key.SHIFT_HANDED, name=told.value)
    else:
        log.say(Key.SHIFT_HANDED_OVER, time=log.clock(log.moment))
    if log.past is not None and told.value is not None:
        log.say(Key.SHIFT_AS_OF, time=log.clock(log.past))


def snoozed(log: Log, told: Reported) -> None:
    """Later: the reminder rings again when it was said to, and the area that goes by until then is told."""
    length = told.value if isinstance(told.value, Measure) else SNOOZE
    if isinstance(told.when, ClockTime):
        until = upcoming(told.when, log.mark.at, log.plan.vigil.zone)
        length = Measure(value=(until - log.mark.at).total_seconds(), unit="s")
    look = log.shift.look
    ahead = (look.due - log.mark.at).total_seconds() if look and look.due else 0.0
    log.note(told, value=length if length.to("s").value >= ahead else Measure(value=ahead, unit="s"))


def ended(log: Log, told: Reported) -> None:
    """Planting is over: first the hoppers are asked for, then the shift ends."""
    if not log.shift.closing or log.past is not None:
        if _stops(log, told):
            stood = log.moment.at if log.past else log.shift.stood or log.mark.at
            log.say(Key.SHIFT_CLOSING, time=log.walk.wording.clock(stood, log.mark.at))
            _say_by_then(log)
            still_doubted(log)
        return
    log.note(told, value=OVER)
    leave(log)
    last = log.mark
    log.say(Key.SHIFT_OVER, area=log.rough(last.planted), hours=log.walk.wording.hours(last.worked))
    for one in latest(log.shift.doubts):
        wording = log.walk.wording
        since, until = (wording.clock(moment, last.at) for moment in (one.since, one.until))
        rows = wording.row_names(one.rows)
        log.say(Key.SHIFT_SCOUT, rows=rows, since=since, until=until, area=log.rough(one.area))


def still_doubted(log: Log) -> None:
    """Rows that were never said to feed again are in doubt until the end."""
    for what, rows in wrong_alike(dict(sorted(log.shift.troubled.items()))):
        log.say(Key.SHIFT_NOT_MENDED, place=log.place(rows))
        doubt(log, rows, what, log.shift.proofs, log.shift.mark)


def latest(doubts: Sequence[Doubted]) -> list[Doubted]:
    """Each doubtful stretch as it was last told, whatever rows were told together before; one that lies within another
    of its row is that one, and one in which nothing was planted is none."""
    last: dict[tuple[int, datetime | None], Doubted] = {}
    for one in doubts:
        for row in one.rows:
            last.pop((row, one.instead), None)
            last[row, one.since] = one
    found: dict[int, list[int]] = {}
    for (row, _), one in last.items():
        others = (other for (same, _), other in last.items() if same == row and other is not one)
        if not any(other.since <= one.since and one.until <= other.until for other in others):
            found.setdefault(id(one), []).append(row)
    planted = [one for one in doubts if id(one) in found and one.planted.value > 0]
    return [_of_rows(one, tuple(found[id(one)])) for one in planted]


def _of_rows(stretch: Doubted, rows: tuple[int, ...]) -> Doubted:
    return scaled(stretch, len(rows) / len(stretch.rows), *OF_ROWS).model_copy(update={"rows": rows})


END = Reported(report=Report.ENDED)
GO_ON = Reported(report=Report.WENT_ON)
