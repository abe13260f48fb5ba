"""A clock that jumped, as far as words show it: before anything else is taken, it is asked what the time is.

Until that is answered nothing is reckoned across the jump; what was told with it waits in the question. Where the clock
went back, the time of the shift goes on ``ahead`` of it, by what it lost, so that no area is counted twice or lost.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import ceil

from engine.clock import Ago
from engine.dialog.facts.question import Question, QuestionKind
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.taking.confirmation import MINUTE, later
from engine.messages import Report, Reported
from engine.quantities import Measure
from engine.shift.turn import JUMPS, ShiftTurn

NOW = Ago(length=Measure(value=0.0, unit="min"))


def asks_first(turn: ShiftTurn, reports: Sequence[Reported] = ()) -> bool:
    """Whether it must be answered first what the time is; asks it, and lets the reports wait for the answer."""
    asked = next((one for one in turn.builder.questions if one.key in JUMPS), None)
    if asked is None and turn.jumped is None:
        return False
    question = _still(turn, asked) if asked else _question(turn)
    waits = {"reports": (*question.reports, *reports), "instead": (*question.instead, *reports)}
    others = [one for one in turn.builder.questions if one is not asked]
    turn.builder.questions = [question.model_copy(update=waits), *others]
    return True


def _question(turn: ShiftTurn) -> Question:
    """Whether the clock is right after it went back, or whether the planter stood while nobody said a word."""
    by = turn.jumped or timedelta()
    length = turn.builder.wording.hours(abs(by).total_seconds())
    now = turn.builder.wording.clock(turn.builder.now, turn.shift.wall(turn.shift.last))
    right = Reported(report=Report.CLOCK, when=NOW, confirmed=True, said=now)
    if by < timedelta():
        return _asked(turn, SystemKey.SHIFT_CLOCK_BACK, right, (), length=length, now=now)
    stood = right.model_copy(update={"until": NOW})
    return _asked(
        turn, SystemKey.SHIFT_SILENT, stood, (right,), length=length, since=turn.clock(turn.shift.last), now=now
    )


def _asked(turn: ShiftTurn, key: SystemKey, yes: Reported, no: tuple[Reported, ...], **figures: str) -> Question:
    return Question(
        about=QuestionKind.REPORT, key=key.value, reports=(yes,), instead=no, figures=figures, at=turn.builder.now
    )


def _still(turn: ShiftTurn, asked: Question) -> Question:
    """A question that was not answered yet, as of now; what no longer says how it is, is to be told anew."""
    passed = max(turn.builder.now - asked.at, timedelta()) if asked.at else timedelta()
    reports, instead = ([later(passed, one) for one in told] for told in (asked.reports, asked.instead))
    if None in reports:
        turn.say(SystemKey.REPORT_LATE, minutes=str(ceil(passed / MINUTE)))
    kept = (tuple(one for one in told if one is not None) for told in (reports, instead))
    return asked.model_copy(update={**dict(zip(("reports", "instead"), kept, strict=True)), "at": turn.builder.now})


def clock_right(turn: ShiftTurn, told: Reported) -> None:
    """The clock is right. What it lost, the time of the shift is ahead of it; with ``until`` the planter stood since
    the last word."""
    passed = timedelta(seconds=told.when.length.to("s").value) if isinstance(told.when, Ago) else timedelta()
    asked, last = turn.builder.now - passed, turn.shift.last
    turn.set_ahead = ahead = _ahead(asked, last, turn.ahead)
    if told.until is not None and turn.shift.runs:
        turn.past = last
        turn.note(Reported(report=Report.PAUSED, said=told.said), until=asked + ahead)
        turn.past = None
    plain = told.model_copy(update={"when": None, "until": None})
    turn.note(plain, value=Measure(value=ahead.total_seconds(), unit="s"))
    turn.say(SystemKey.SHIFT_CLOCK_RIGHT, now=turn.builder.wording.clock(turn.builder.now, turn.builder.now))


def _ahead(asked: datetime, last: datetime, before: timedelta) -> timedelta:
    """How far the time of the shift is ahead of the clock now; no more where that has caught up with the last word."""
    if asked + before < last:
        return last - asked
    return before if asked < last else timedelta()
