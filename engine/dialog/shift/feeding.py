"""Reports of how rows feed: good, high, stopped, feeding again, caught."""

from __future__ import annotations

from engine.calculations.domain import tolerance_of
from engine.dialog.house import Key
from engine.dialog.script import Role
from engine.dialog.shift.doubt import doubt
from engine.dialog.shift.fact import Proof
from engine.dialog.shift.log import Log
from engine.dialog.shift.progress import between
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
        log.note(told, rows, proofs={row: proof for row in rows if (proof := seen(log, row)) is not None})
    if (told.rows and rows) or log.named:
        log.say(Key.SHIFT_ROWS_GOOD, place=log.place(rows))
    elif noted and not told.rows:
        log.say(Key.SHIFT_GOOD_BUT, rows=log.walk.wording.row_names(noted), row=str(noted[0]))
    elif not told.rows:
        log.say(Key.SHIFT_GOOD)


def seen(log: Log, row: int) -> Proof | None:
    """Until when a hopper that is not seen to stay high proves that its row fed: what had to go down shows late."""
    unseen = measure(log.plan.unseen(log.shift, row), "acre").value
    return between(log.shift.proofs[row], log.mark, log.mark.planted.value - unseen)


def wrong(log: Log, told: Reported) -> None:
    """Rows that stopped or stay high."""
    rows = log.rows(told)
    if not rows:
        return
    log.named |= set(rows)
    stopped = told.report is Report.STOPPED
    log.say(Key.SHIFT_STOPPED if stopped else Key.SHIFT_HIGH, place=log.place(rows))
    log.note(told, rows)
    doubt(log, rows, told.report, log.shift.proofs)
    log.say(Key.SHIFT_INSPECT, row=str(rows[0]))


def runs(log: Log, told: Reported) -> None:
    """Rows that feed again: what lies between is in doubt, from now on they are proved."""
    rows = log.rows(told)
    if not rows:
        return
    log.say(Key.SHIFT_RUNS, place=log.place(rows))
    before = log.shift
    log.note(told, rows, proofs=dict.fromkeys(rows, log.mark))
    troubled = {row: what for row, what in before.troubled.items() if row in rows}
    for what in dict.fromkeys(troubled.values()):
        doubt(log, tuple(row for row in rows if troubled.get(row) is what), what, before.proofs)
    course = log.plan.measure(Role.COURSE)
    if course is not None:
        log.say(Key.SHIFT_CATCH, row=str(rows[0]), course=log.rough(course))


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
    for row in rows:
        log.say(Key.SHIFT_CATCH_KNOWN, row=str(row), net=shown, target=wanted, off=percent(log, off))
    log.note(told, rows, proofs=dict.fromkeys(rows, log.mark) if fine else {})
    log.say(Key.SHIFT_CATCH_FINE if fine else Key.SHIFT_CATCH_OFF)


def percent(log: Log, off: float) -> str:
    """ "4% high" """
    amount = log.walk.wording.amount(Measure(value=abs(off) * 100, unit="%"), 0)
    return log.walk.wording.say(Key.HIGH if off >= 0 else Key.LOW, value=amount)
