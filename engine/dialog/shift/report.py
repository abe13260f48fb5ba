"""Taking the reports of one utterance, in the order in which they make sense."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from engine.dialog.events import Fact, Kept, Withdrawn
from engine.dialog.house import Key
from engine.dialog.shift import change, course, feeding, hopper
from engine.dialog.shift.books import balance, correct
from engine.dialog.shift.fact import Noted, ShiftStarted, TakenBack
from engine.dialog.shift.interlude import interlude
from engine.dialog.shift.log import Log
from engine.dialog.shift.look import wanted
from engine.dialog.shift.moment import stands_at
from engine.dialog.shift.plan import Plan
from engine.dialog.shift.vigil import Vigil
from engine.dialog.walk import Walk
from engine.messages import Command, Commanded, Report, Reported
from engine.values import Value

_TAKES: Mapping[Report, Callable[[Log, Reported], None]] = {
    Report.GOOD: feeding.good,
    Report.HIGH: feeding.wrong,
    Report.STOPPED: feeding.wrong,
    Report.RUNS: feeding.runs,
    Report.CAUGHT: feeding.caught,
    Report.LEFT: hopper.left,
    Report.LEVEL: hopper.left,
    Report.REFILLED: hopper.refilled,
    Report.PLANTED: course.planted,
    Report.REMAINING: course.remaining,
    Report.PAUSED: course.paused,
    Report.WENT_ON: course.went_on,
    Report.HANDED_OVER: course.handed_over,
    Report.ENDED: course.ended,
    Report.SPEED: change.speed,
    Report.RATE: change.rate,
    Report.PRODUCT: change.named,
    Report.LOT: change.named,
    Report.FIELD: change.named,
    Report.SNOOZED: course.snoozed,
}
_AREAS = frozenset({Report.PLANTED, Report.REMAINING})
_CHANGES = (Noted, TakenBack, ShiftStarted, Kept, Withdrawn)


def take_reports(walk: Walk, reports: Sequence[Reported], vigil: Vigil) -> None:
    """Note what was told: the area first, then rows one by one, and last what is said of all the others."""
    plan = Plan.of(walk, vigil)
    if plan is None or walk.dialog.shift is None:
        walk.say(Key.UNCLEAR_UNKNOWN_WORDS)
        return
    log = Log(walk, plan)
    log.spoken_of = {row for told in reports for row in told.rows}
    for told in sorted(reports, key=_order):
        if stands_at(log, told):
            rest = log.rows(told) if told.rest else told.rows
            take = _TAKES[told.report] if told.until is None else interlude
            take(log, told.model_copy(update={"rows": rest}))
    log.past = None
    if any(told.report in _AREAS for told in reports):
        correct(log)
    balance(log)
    is_whole = any(told.rest or told.report is Report.GOOD for told in reports)
    if log.named and not is_whole and len(log.named) < len(log.shift.rows):
        log.say(Key.SHIFT_REST)


def _order(told: Reported) -> int:
    return {Report.PLANTED: 0, Report.REMAINING: 0, Report.GOOD: 2, Report.ENDED: 3}.get(told.report, 1)


def told_by(walk: Walk, commanded: Commanded) -> Reported | None:
    """The report that a command means during a shift: "go on" ends a pause, "done" what is left to be said."""
    shift = walk.state.dialog.shift if walk.state.dialog else None
    if shift is None or shift.ended or walk.questions:
        return None
    if commanded.command is Command.RESUME and shift.paused:
        return course.GO_ON
    return course.END if commanded.command in (Command.DONE, Command.SKIP) and shift.closing else None


def keep_watch(walk: Walk, vigil: Vigil) -> None:
    """Begin the shift where the dialog has come to it, and set the next look where anything has changed."""
    plan = Plan.of(walk, vigil)
    if plan is None:
        return
    if walk.dialog.shift is None:
        walk.add(_start(walk, plan))
        walk.say(Key.SHIFT_STARTED, time=walk.wording.clock(walk.now, walk.now))
    if any(isinstance(fact, _CHANGES) for fact in walk.facts):
        log = Log(walk, plan)
        walk.add(wanted(log.shift, plan, log.mark))


def _start(walk: Walk, plan: Plan) -> Fact:
    names = ("product", "lot", "field")
    given = {str(role): value for role, value in plan.given.items() if role in names}
    now: dict[str, Value] = {name: value for name, value in given.items() if not isinstance(value, dict)}
    learned = walk.state.book.efficiency
    efficiency = plan.vigil.efficiency if learned is None else learned
    return ShiftStarted(at=walk.now, hoppers=plan.loaded, efficiency=efficiency, now=now)
