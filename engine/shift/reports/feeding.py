"""Reports of how rows feed: good, dropping at the outlet, high, stopped, feeding again, caught."""

from __future__ import annotations

from datetime import datetime

from engine.calculations.domain import tolerance_of
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.schema.slot_roles import Role
from engine.messages import Report, Reported
from engine.quantities import Measure, measure
from engine.shift.record.shift_state import ShiftState
from engine.shift.reports.suspect_rows import doubt, wrong_alike
from engine.shift.reports.times import span_of
from engine.shift.turn import ShiftTurn

TOLERANCE = Measure(value=5.0, unit="%")


def good(turn: ShiftTurn, told: Reported) -> None:
    """Rows that look right; one that is noted as stopped or high needs more than to be overlooked."""
    mended = tuple(row for row in told.rows if row in turn.shift.troubled)
    if mended:
        runs(turn, told.model_copy(update={"report": Report.RUNS, "rows": mended}))
    rows = tuple(row for row in turn.rows(told) if row not in turn.shift.troubled and row not in mended)
    noted = tuple(sorted(turn.shift.troubled.keys() - turn.named))
    if rows or not mended:
        turn.note(told, rows, proofs=seen(turn, rows))
    if (told.rows and rows) or turn.named:
        turn.say(SystemKey.SHIFT_ROWS_GOOD, place=turn.place(rows))
    elif noted and not told.rows:
        turn.say(SystemKey.SHIFT_GOOD_BUT, rows=turn.builder.wording.row_names(noted), row=str(noted[0]))
    elif not told.rows:
        turn.say(SystemKey.SHIFT_GOOD)


def seen(turn: ShiftTurn, rows: tuple[int, ...]) -> dict[int, datetime]:
    """Until when hoppers that are not seen to stay high prove that their rows fed: what had to go down shows late."""
    shift, now = turn.shift, turn.now
    full = {row: shift.filled[row].mass for row in rows}
    unseen = {mass: measure(turn.plan.unseen(shift, mass), "acre").value for mass in set(full.values())}
    planted = turn.planted.to("acre").value
    area = {mass: Measure(value=max(planted - lag, 0.0), unit="acre") for mass, lag in unseen.items()}
    return {row: turn.timeline.reached(area[full[row]], now) for row in rows}


def dropping(turn: ShiftTurn, told: Reported) -> None:
    """Granules seen at the outlets: these rows feed now, whatever the hoppers look like."""
    rows = turn.rows(told)
    if not rows:
        return
    before, mended = turn.shift, any(row in turn.shift.troubled for row in rows)
    turn.note(told, rows, proofs=dict.fromkeys(rows, turn.now))
    turn.say(SystemKey.SHIFT_DROPPING, place=turn.place(rows)) if told.rows else turn.say(SystemKey.SHIFT_ALL_DROPPING)
    if mended:
        close(turn, rows, before)


def wrong(turn: ShiftTurn, told: Reported) -> None:
    """Rows that stopped or stay high."""
    rows = turn.rows(told)
    if not rows:
        return
    turn.named |= set(rows)
    _say_wrong(turn, told.report, rows)
    turn.note(told, rows, proofs=_since_said(turn, rows))
    turn.say(SystemKey.SHIFT_INSPECT, row=str(rows[0]))
    doubt(turn, rows, told.report, turn.shift.proofs, turn.now)


def out(turn: ShiftTurn, told: Reported) -> None:
    """Rows that fed wrong from when to when: they feed again, and the planter did not stand."""
    rows, span = turn.rows(told), span_of(turn, told)
    if not rows or span is None:
        return
    since, until = span
    turn.past = since
    turn.note(told.model_copy(update={"rows": rows}), rows, until=until)
    turn.past = None
    turn.say(SystemKey.SHIFT_OUT, place=turn.place(rows), since=turn.clock(since), until=turn.clock(until))
    doubt(turn, rows, told.report, dict.fromkeys(rows, since), until)


def empty(turn: ShiftTurn, told: Reported, rows: tuple[int, ...]) -> None:
    """Rows whose hoppers ran empty while the others went on planting: they stopped, nobody knows when."""
    turn.named |= set(rows)
    stopped = told.model_copy(update={"report": Report.STOPPED, "value": None})
    turn.note(stopped, rows, proofs={row: turn.shift.proofs[row] for row in rows})
    turn.say(SystemKey.SHIFT_EMPTY, place=turn.place(rows), row=str(rows[0]))
    doubt(turn, rows, Report.STOPPED, turn.shift.proofs, turn.now)


def _say_wrong(turn: ShiftTurn, report: Report, rows: tuple[int, ...]) -> None:
    stopped, place = report is Report.STOPPED, turn.place(rows)
    if turn.past is None:
        turn.say(SystemKey.SHIFT_STOPPED if stopped else SystemKey.SHIFT_HIGH, place=place)
        return
    turn.say(
        SystemKey.SHIFT_STOPPED_AT if stopped else SystemKey.SHIFT_HIGH_SINCE, place=place, time=turn.clock(turn.past)
    )
    later = [row for row in rows if turn.timeline.between(turn.past, turn.shift.proofs[row]).value > 0]
    if later:
        last = max(turn.shift.proofs[row] for row in later)
        turn.say(SystemKey.SHIFT_HAD_FED, rows=turn.builder.wording.row_names(later), time=turn.clock(last))


def _since_said(turn: ShiftTurn, rows: tuple[int, ...]) -> dict[int, datetime]:
    """Where the doubt of each row begins by the operator's own word; no earlier than one that ended before it."""
    past = turn.past
    if past is None:
        return {}
    return {row: max(past, _ended(turn.shift, row) or past) for row in rows}


def _ended(shift: ShiftState, row: int) -> datetime | None:
    """When the last doubtful stretch of a row ended that is not the one it is in now."""
    now = shift.stretches.get(row) if row in shift.troubled else None
    return max(
        (one.until for one in shift.doubts if row in one.rows and (now is None or one.until <= now)), default=None
    )


def runs(turn: ShiftTurn, told: Reported) -> None:
    """Rows that feed again: what lies between is in doubt, from now on they are proved."""
    rows = turn.rows(told)
    if not rows:
        return
    before = turn.shift
    if turn.refuses(max((before.proofs[row] for row in rows if row in before.troubled), default=before.started)):
        return
    if turn.past is None:
        turn.say(SystemKey.SHIFT_RUNS, place=turn.place(rows))
    else:
        turn.say(SystemKey.SHIFT_RUNS_AT, place=turn.place(rows), time=turn.clock(turn.past))
    turn.note(told, rows, proofs=dict.fromkeys(rows, turn.when))
    close(turn, rows, before)
    course = turn.plan.measure(Role.COURSE)
    if course is not None:
        turn.say(SystemKey.SHIFT_CATCH, row=str(rows[0]), course=turn.rough(course))


def close(turn: ShiftTurn, rows: tuple[int, ...], before: ShiftState) -> None:
    """Rows that were noted as wrong are in doubt until the moment from which on they are known to feed."""
    for what, alike in wrong_alike({row: before.troubled[row] for row in rows if row in before.troubled}):
        doubt(turn, alike, what, before.proofs, turn.when)


def caught(turn: ShiftTurn, told: Reported) -> None:
    """A short catch of one row against its target."""
    target, rows = turn.plan.measure(Role.TARGET), turn.rows(told)
    if target is None or not isinstance(told.value, Measure):
        turn.say(SystemKey.SHIFT_CATCH_UNKNOWN)
        return
    tare = turn.plan.measure(Role.TARE)
    net = max(told.value.to("g").value - (tare.to("g").value if tare else 0.0), 0.0)
    off = net / target.to("g").value - 1
    allowed = tolerance_of((turn.plan.measure(Role.TOLERANCE) or TOLERANCE).quantity)
    fine = abs(off) <= allowed
    shown, wanted = (turn.builder.wording.amount(one, 1) for one in (Measure(value=net, unit="g"), target.to("g")))
    told_off = turn.builder.wording.off(Measure(value=off * 100, unit="%"))
    for row in rows:
        turn.say(SystemKey.SHIFT_CATCH_KNOWN, row=str(row), net=shown, target=wanted, off=told_off)
    before = turn.shift
    turn.note(told, rows, proofs=dict.fromkeys(rows, turn.now) if fine else {})
    turn.say(SystemKey.SHIFT_CATCH_FINE if fine else SystemKey.SHIFT_CATCH_OFF)
    if fine:
        close(turn, rows, before)
