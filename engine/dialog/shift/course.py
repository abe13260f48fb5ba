"""The course of a shift: acres done, pauses, another operator, later looks, the end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from engine.dialog.house import Key
from engine.dialog.script import Role
from engine.dialog.shift.fact import Doubted, Proof
from engine.dialog.shift.log import Log
from engine.dialog.shift.state import OVER
from engine.messages import Report, Reported
from engine.quantities import Measure, measure, quantity
from engine.reminders.rules import AcreReport, learned_efficiency

SNOOZE = Measure(value=10.0, unit="min")
LEARNED_FROM = 60.0
LEAST, MOST = 0.05, 1.0
SLACK, LEAST_ACRES = 1.25, 1.0
"""An area up to this much more than the planter can do is taken: clocks, widths and memory are not exact."""


def planted(log: Log, told: Reported) -> None:
    """Acres done since the shift began: the reckoning is set right, and the field efficiency learns from it."""
    if not isinstance(told.value, Measure):
        return
    acres, before = told.value.to("acre"), log.shift.measured.planted
    if acres.value < before.value:
        log.say(Key.SHIFT_LESS_PLANTED, said=log.rough(acres), before=log.rough(before))
        return
    most = before.value + _most(log)
    if acres.value > most * SLACK + LEAST_ACRES:
        possible = log.rough(Measure(value=most, unit="acre"))
        log.say(Key.SHIFT_MORE_PLANTED, said=log.rough(acres), most=possible)
        return
    mark = log.mark.model_copy(update={"planted": acres})
    log.note(told, mark=mark, efficiency=_learned(log, mark))
    log.say(Key.SHIFT_PLANTED, area=log.rough(acres))
    field = log.plan.measure(Role.FIELD_AREA)
    if field is not None and field.to("acre").value > acres.value:
        left = field.to("acre").value - acres.value
        log.say(Key.SHIFT_FIELD_LEFT, area=log.rough(Measure(value=left, unit="acre")))


def _most(log: Log) -> float:
    """Acres that this planter can do without ever stopping or turning since the area was last told."""
    full = replace(log.plan.pace(log.shift), efficiency=quantity(1, "1"))
    return measure(full.area(timedelta(seconds=log.mark.worked - log.shift.measured.worked)), "acre").value


def _learned(log: Log, mark: Proof) -> float | None:
    """Field efficiency after this report; None where too little time has passed to learn from."""
    before = log.shift.measured
    worked = mark.worked - before.worked
    if worked < LEARNED_FROM:
        return None
    report = AcreReport(quantity(mark.planted.value - before.planted.value, "acre"), timedelta(seconds=worked))
    believed, speed = quantity(log.shift.efficiency, "1"), log.plan.speed(log.shift).quantity
    found = learned_efficiency(believed, (report,), speed, log.plan.width(log.shift))
    return min(max(float(found.to("dimensionless").magnitude), LEAST), MOST)


def paused(log: Log, told: Reported) -> None:
    log.note(told)
    log.say(Key.SHIFT_PAUSED, time=log.clock(log.mark))


def went_on(log: Log, told: Reported) -> None:
    if log.shift.runs:
        log.say(Key.SHIFT_RUNS_ALREADY)
        return
    log.note(told)
    log.say(Key.SHIFT_WENT_ON, time=log.clock(log.mark))


def handed_over(log: Log, told: Reported) -> None:
    log.note(told)
    if isinstance(told.value, str):
        log.say(Key.SHIFT_HANDED, name=told.value)
    else:
        log.say(Key.SHIFT_HANDED_OVER, time=log.clock(log.mark))


def snoozed(log: Log, told: Reported) -> None:
    """Later: the reminder rings again when it was said to, and the area that goes by until then is told."""
    length = told.value if isinstance(told.value, Measure) else SNOOZE
    look = log.shift.look
    ahead = (look.due - log.mark.at).total_seconds() if look and look.due else 0.0
    log.note(told, value=length if length.to("s").value >= ahead else Measure(value=ahead, unit="s"))


def ended(log: Log, told: Reported) -> None:
    """Planting is over: first the hoppers are asked for, then the shift ends."""
    if not log.shift.closing:
        log.note(told)
        log.say(Key.SHIFT_CLOSING, time=log.clock(log.mark))
        return
    log.note(told, value=OVER)
    last = log.mark
    log.say(Key.SHIFT_OVER, area=log.rough(last.planted), hours=hours(log, last.worked))
    for doubt in latest(log.shift.doubts):
        wording = log.walk.wording
        since, until = (wording.clock(one, last.at) for one in (doubt.since, doubt.until))
        rows = wording.row_names(doubt.rows)
        log.say(Key.SHIFT_SCOUT, rows=rows, since=since, until=until, area=log.rough(doubt.area))


def latest(doubts: Sequence[Doubted]) -> list[Doubted]:
    """Each doubtful stretch as it was last told, whatever rows were told together before."""
    last = {(row, one.since): one for one in doubts for row in one.rows}
    found: dict[int, list[int]] = {}
    for (row, _), one in last.items():
        found.setdefault(id(one), []).append(row)
    return [_of_rows(one, tuple(found[id(one)])) for one in doubts if id(one) in found]


def _of_rows(doubt: Doubted, rows: tuple[int, ...]) -> Doubted:
    share = len(rows) / len(doubt.rows)
    parts = {name: getattr(doubt, name) for name in ("area", "row_length", "short")}
    less = {name: one.model_copy(update={"value": one.value * share}) for name, one in parts.items()}
    return doubt.model_copy(update={"rows": rows, **less})


def hours(log: Log, seconds: float) -> str:
    """ "6 h 10 min" """
    minutes = round(seconds / 60)
    return log.walk.wording.say(Key.HOURS, hours=str(minutes // 60), minutes=f"{minutes % 60:02d}")


END = Reported(report=Report.ENDED)
GO_ON = Reported(report=Report.WENT_ON)
