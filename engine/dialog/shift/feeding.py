"""Reports of how rows feed: good, high, stopped, feeding again, caught."""

from __future__ import annotations

from datetime import datetime

from engine.calculations.domain import tolerance_of
from engine.dialog.house import Key
from engine.dialog.roles import Role
from engine.dialog.shift.doubt import doubt, wrong_alike
from engine.dialog.shift.fact import Proof
from engine.dialog.shift.log import Log
from engine.dialog.shift.progress import back_at, reached
from engine.dialog.shift.state import Shift
from engine.messages import Report, Reported
from engine.quantities import Measure, measure

TOLERANCE = Measure(value=5.0, unit="%")


def good(log: Log, told: Reported) -> None:
    """Rows that look right; one that is noted as stopped or high needs more than to be overlooked."""
    mended = tuple(row for row in told.rows if row in log.shift.troubled)
    if mended:
        runs(log, told.model_copy(update={"report": Report.RUNS, "rows": mended}))
    rows = tuple(row for row in log.rows(told) if row not in log.shift.troubled and row not in mended)
    noted = tuple(sorted(log.shift.troubled.keys() - log.named))
    if rows or not mended:
        log.note(told, rows, proofs=seen(log, rows))
    if (told.rows and rows) or log.named:
        log.say(Key.SHIFT_ROWS_GOOD, place=log.place(rows))
    elif noted and not told.rows:
        log.say(Key.SHIFT_GOOD_BUT, rows=log.walk.wording.row_names(noted), row=str(noted[0]))
    elif not told.rows:
        log.say(Key.SHIFT_GOOD)


def seen(log: Log, rows: tuple[int, ...]) -> dict[int, Proof]:
    """Until when hoppers that are not seen to stay high prove that their rows fed: what had to go down shows late."""
    shift, mark = log.shift, log.mark
    full = {row: shift.filled[row].mass for row in rows}
    unseen = {mass: measure(log.plan.unseen(shift, mass), "acre").value for mass in set(full.values())}
    return {row: reached(shift, mark, mark.planted.value - unseen[full[row]]) for row in rows}


def wrong(log: Log, told: Reported) -> None:
    """Rows that stopped or stay high."""
    rows = log.rows(told)
    if not rows:
        return
    log.named |= set(rows)
    _say_wrong(log, told.report, rows)
    log.note(told, rows, proofs=_since_said(log, rows))
    log.say(Key.SHIFT_INSPECT, row=str(rows[0]))
    doubt(log, rows, told.report, log.shift.proofs)


def empty(log: Log, told: Reported, rows: tuple[int, ...]) -> None:
    """Rows whose hoppers ran empty while the others went on planting: they stopped, nobody knows when."""
    log.named |= set(rows)
    proofs = {row: log.shift.proofs[row] for row in rows}
    log.note(told.model_copy(update={"report": Report.STOPPED, "value": None}), rows, proofs=proofs)
    log.say(Key.SHIFT_EMPTY, place=log.place(rows), row=str(rows[0]))
    doubt(log, rows, Report.STOPPED, log.shift.proofs)


def _say_wrong(log: Log, report: Report, rows: tuple[int, ...]) -> None:
    stopped, place = report is Report.STOPPED, log.place(rows)
    if log.past is None:
        log.say(Key.SHIFT_STOPPED if stopped else Key.SHIFT_HIGH, place=place)
        return
    log.say(Key.SHIFT_STOPPED_AT if stopped else Key.SHIFT_HIGH_SINCE, place=place, time=log.clock(log.past))
    later = [row for row in rows if log.shift.proofs[row].planted.value > log.past.planted.value]
    if later:
        last = max((log.shift.proofs[row] for row in later), key=lambda one: one.at)
        log.say(Key.SHIFT_HAD_FED, rows=log.walk.wording.row_names(later), time=log.clock(last))


def _since_said(log: Log, rows: tuple[int, ...]) -> dict[int, Proof]:
    """Where the doubt of each row begins by the operator's own word; no earlier than one that ended before it."""
    if log.past is None:
        return {}
    late = {row: end for row in rows if (end := _ended(log.shift, row)) and end > log.past.at}
    return {row: back_at(log.shift, log.plan, late[row]) if row in late else log.past for row in rows}


def _ended(shift: Shift, row: int) -> datetime | None:
    """When the last doubtful stretch of a row ended that is not the one it is in now."""
    now = shift.stretches.get(row) if row in shift.troubled else None
    return max(
        (one.until for one in shift.doubts if row in one.rows and (now is None or one.until <= now)), default=None
    )


def runs(log: Log, told: Reported) -> None:
    """Rows that feed again: what lies between is in doubt, from now on they are proved."""
    rows = log.rows(told)
    if not rows:
        return
    before = log.shift
    if log.refuses(max((before.proofs[row].at for row in rows if row in before.troubled), default=before.started)):
        return
    if log.past is None:
        log.say(Key.SHIFT_RUNS, place=log.place(rows))
    else:
        log.say(Key.SHIFT_RUNS_AT, place=log.place(rows), time=log.clock(log.past))
    log.note(told, rows, proofs=dict.fromkeys(rows, log.moment))
    _close(log, rows, before)
    course = log.plan.measure(Role.COURSE)
    if course is not None:
        log.say(Key.SHIFT_CATCH, row=str(rows[0]), course=log.rough(course))


def _close(log: Log, rows: tuple[int, ...], before: Shift) -> None:
    """Rows that were noted as wrong are in doubt until the moment from which on they are known to feed."""
    for what, alike in wrong_alike({row: before.troubled[row] for row in rows if row in before.troubled}):
        doubt(log, alike, what, before.proofs, log.moment)


def caught(log: Log, told: Reported) -> None:
    """A short catch of one row against its target."""
    target, rows = log.plan.measure(Role.TARGET), log.rows(told)
    if target is None or not isinstance(told.value, Measure):
        log.say(Key.SHIFT_CATCH_UNKNOWN)
        return
    tare = log.plan.measure(Role.TARE)
    net = max(told.value.to("g").value - (tare.to("g").value if tare else 0.0), 0.0)
    off = net / target.to("g").value - 1
    allowed = tolerance_of((log.plan.measure(Role.TOLERANCE) or TOLERANCE).quantity)
    fine = abs(off) <= allowed
    shown, wanted = (log.walk.wording.amount(one, 1) for one in (Measure(value=net, unit="g"), target.to("g")))
    told_off = log.walk.wording.off(Measure(value=off * 100, unit="%"))
    for row in rows:
        log.say(Key.SHIFT_CATCH_KNOWN, row=str(row), net=shown, target=wanted, off=told_off)
    before = log.shift
    log.note(told, rows, proofs=dict.fromkeys(rows, log.mark) if fine else {})
    log.say(Key.SHIFT_CATCH_FINE if fine else Key.SHIFT_CATCH_OFF)
    if fine:
        _close(log, rows, before)
