"""What was done last: the fields of the last shift with acres, amount and hours, then the last test run."""

from __future__ import annotations

from engine.dialog.facts.applied import Applied
from engine.dialog.questions.outlook import say_test_done
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.taking.application_taking import newest, where_told
from engine.dialog.turns.turn_builder import TurnBuilder


def say_summary(walk: TurnBuilder) -> None:
    """While an activity watches, how it stands; else what it applied last and for what the calibration holds."""
    if walk.activity is not None and walk.state.dialog is not None and walk.dialog.activity is not None:
        walk.activity.status(walk)
        return
    last = newest(walk.state.book)
    for one in last:
        _say_applied(walk, one)
    if not last:
        walk.say(AnswerKey.SUMMARY_NONE)
    say_test_done(walk)


def _say_applied(walk: TurnBuilder, one: Applied) -> None:
    told = {
        "where": where_told(walk, one),
        "area": walk.wording.rough(one.area),
        "since": walk.wording.clock(one.since, walk.now),
        "until": walk.wording.clock(one.until, walk.now),
    }
    if one.amount is None:
        walk.say(AnswerKey.SUMMARY_OPEN, **told)
    else:
        walk.say(AnswerKey.SUMMARY, amount=walk.wording.rough(one.amount), **told)
