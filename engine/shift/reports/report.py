"""Taking the reports of one utterance, in the order in which they make sense."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.messages import Command, Commanded, Report, Reported
from engine.shift import look
from engine.shift.record.shift_state import ShiftState
from engine.shift.reports import change_reports, course_of_work, feeding, jump, label_reports, levels
from engine.shift.reports.mass_balance import balance, correct
from engine.shift.reports.times import stands_at
from engine.shift.turn import ShiftTurn

_TAKES: Mapping[Report, Callable[[ShiftTurn, Reported], None]] = {
    Report.GOOD: feeding.good,
    Report.DROPPING: feeding.dropping,
    Report.HIGH: feeding.wrong,
    Report.STOPPED: feeding.wrong,
    Report.RUNS: feeding.runs,
    Report.CAUGHT: feeding.caught,
    Report.LEFT: levels.left,
    Report.LEVEL: levels.left,
    Report.REFILLED: levels.refilled,
    Report.PLANTED: course_of_work.planted,
    Report.REMAINING: course_of_work.remaining,
    Report.PAUSED: course_of_work.paused,
    Report.WENT_ON: course_of_work.went_on,
    Report.HANDED_OVER: course_of_work.handed_over,
    Report.ENDED: course_of_work.ended,
    Report.SPEED: change_reports.speed,
    Report.RATE: change_reports.rate,
    Report.PRODUCT: change_reports.named,
    Report.LOT: change_reports.named,
    Report.FIELD: change_reports.named,
    Report.SNOOZED: course_of_work.snoozed,
    Report.LOOKS: look.chosen,
    Report.DECIDED: label_reports.decided,
    Report.CLOCK: jump.clock_right,
}
_OF_HOPPERS = frozenset({Report.REFILLED, Report.LEFT, Report.LEVEL})
_CLOCKED = frozenset({Report.PLANTED, Report.REMAINING, Report.PAUSED})


def take_reports(builder: TurnBuilder, reports: Sequence[Reported]) -> None:
    """Note what was told: the area first, then rows one by one, and last what is said of all the others."""
    turn = ShiftTurn.of(builder)
    if turn is None:
        builder.say(SystemKey.UNCLEAR_UNKNOWN_WORDS)
        return
    if jump.asks_first(turn, reports):
        return
    turn.spoken_of = {row for told in reports for row in told.rows}
    for told in sorted(_together(reports), key=_order):
        if stands_at(turn, told):
            rest = turn.rows(told) if told.rest else told.rows
            _take(turn, told.model_copy(update={"rows": rest}))
    turn.past = None
    if any(told.report in _CLOCKED for told in reports):
        correct(turn)
    balance(turn)
    is_whole = any(told.rest or told.report is Report.GOOD for told in reports)
    if turn.named and not is_whole and len(turn.named) < len(turn.shift.rows):
        turn.say(SystemKey.SHIFT_REST)


def _together(reports: Sequence[Reported]) -> list[Reported]:
    """Reports in order, those of what is in hoppers that say the same of single rows as one of all of them."""
    alike: dict[Reported, list[Reported]] = {}
    for told in reports:
        single = told.report in _OF_HOPPERS and len(told.rows) == 1 and not told.rest
        key = told.model_copy(update={"rows": (), "said": "", "each": True}) if single else told
        alike.setdefault(key, []).append(told)
    return [_as_one(same) for same in alike.values()]


def _as_one(same: Sequence[Reported]) -> Reported:
    if len(same) == 1:
        return same[0]
    rows = tuple(sorted({row for told in same for row in told.rows}))
    said = ", ".join(told.said for told in same)
    return same[0].model_copy(update={"rows": rows, "each": True, "said": said})


def _take(turn: ShiftTurn, told: Reported) -> None:
    """One report; what was so from when to when is a pause of the planter, or of the rows that are named."""
    if told.until is None or told.report is Report.CLOCK:
        _TAKES[told.report](turn, told)
    elif told.report is Report.PAUSED:
        course_of_work.interlude(turn, told)
    else:
        feeding.out(turn, told)


def _order(told: Reported) -> int:
    return {Report.CLOCK: -1, Report.PLANTED: 0, Report.REMAINING: 0, Report.GOOD: 2, Report.ENDED: 3}.get(
        told.report, 1
    )


def meant(builder: TurnBuilder, commanded: Commanded) -> Reported | None:
    """The report that a command means during a shift: "go on" ends a pause, "done" what is left to be said."""
    shift = builder.state.dialog.activity if builder.state.dialog else None
    if not isinstance(shift, ShiftState) or shift.ended or builder.questions:
        return None
    if commanded.command is Command.RESUME and shift.paused:
        return course_of_work.GO_ON
    return course_of_work.END if commanded.command in (Command.DONE, Command.SKIP) and shift.closing else None
