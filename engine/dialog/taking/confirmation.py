"""What is asked back, and what an answer settles: a yes or a no to the open question, or one of several ways.

Reports are asked back before they are taken where they are heard too unsurely, hardly possible, or meant in several
ways.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from math import ceil
from typing import assert_never

from engine.clock import Ago, Moment
from engine.dialog.facts.question import Question, QuestionKind
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.taking.absence import stopped
from engine.dialog.taking.commands import leave, may_be_declined, obey, start
from engine.dialog.taking.correction import keep_reading
from engine.dialog.taking.slot_filling import answer_offer
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.entries.matching.report_parser import TIMED
from engine.expectation import SlotKind
from engine.intents import Command
from engine.messages import Commanded, Report, Reported
from engine.quantities import Measure

MINUTE = timedelta(minutes=1)
AT_ONCE = MINUTE
"""A yes that takes longer says nothing of how it is now (own decision)."""
_SINCE_PROOF = frozenset({Report.STOPPED, Report.HIGH})
"""What is in doubt reaches back to the last proof, so that a later yes loses nothing."""
DOUBTS = frozenset({QuestionKind.DOUBT, QuestionKind.CHOICE})
OTHER = 2
"""Of two readings a no leaves the other to be asked; of more it is quicker said again (own decision)."""
_SETTLED = {
    QuestionKind.DOUBT: DOUBTS,
    QuestionKind.REPLACE: DOUBTS | {QuestionKind.REPLACE},
    QuestionKind.CHECK: DOUBTS | {QuestionKind.REPLACE, QuestionKind.CHECK},
}
"""What a yes to a question about a value settles of it."""


def hear(builder: TurnBuilder, reports: Sequence[Reported]) -> None:
    """Take what was heard surely and ask for the rest; a question about what is told anew is dropped.

    Twice the same is not sure: what is misheard once is misheard again.
    """
    builder.questions = [question for question in builder.questions if not _is_told_anew(question, reports)]
    sure = [told for told in reports if told.doubt is None]
    if sure:
        take(builder, sure)
    doubtful = tuple(told for told in reports if told.doubt is not None)
    if doubtful:
        builder.questions.insert(0, Question(about=QuestionKind.REPORT, reports=doubtful, at=builder.now))


def take(builder: TurnBuilder, reports: Sequence[Reported]) -> None:
    """Hand reports to the activity that watches; they mean nothing where none does."""
    if builder.activity is None:
        builder.say(SystemKey.UNCLEAR_UNKNOWN_WORDS)
    else:
        builder.activity.take(builder, reports)


def confirm(builder: TurnBuilder, question: Question, reports: Sequence[Reported]) -> None:
    """Take the reports that an answer gives, as of when the question was asked; what may have changed since is to be
    told anew."""
    passed = max(builder.now - question.at, timedelta()) if question.at is not None else timedelta()
    told = [later(passed, one) for one in reports]
    still = [one for one in told if one is not None]
    if still:
        take(builder, still)
    if len(still) < len(told):
        builder.say(SystemKey.REPORT_LATE, minutes=str(ceil(passed / MINUTE)))


def later(passed: timedelta, told: Reported) -> Reported | None:
    """A report that is confirmed so much later; None where it no longer says how it is."""
    told = told.model_copy(update={"doubt": None, "when": _on(told.when, passed), "until": _on(told.until, passed)})
    if told.when is not None or told.report in _SINCE_PROOF or passed <= AT_ONCE:
        return told
    return told.model_copy(update={"when": _ago(passed)}) if told.report in TIMED else None


def _on(moment: Moment | None, passed: timedelta) -> Moment | None:
    """The same moment, in words of so much later."""
    if not isinstance(moment, Ago):
        return moment
    return _ago(passed + timedelta(minutes=moment.length.to("min").value))


def _ago(passed: timedelta) -> Ago:
    return Ago(length=Measure(value=passed / MINUTE, unit="min"))


def _is_told_anew(question: Question, reports: Sequence[Reported]) -> bool:
    """Whether each report that a question is about is now told of the same rows, or of all."""
    asked = question.ways[0].reports if question.ways else question.reports
    return bool(asked) and all(any(_is_same(one, told) for told in reports) for one in asked)


def _is_same(asked: Reported, told: Reported) -> bool:
    if not asked.rows or not (told.rows or told.rest):
        return asked.report is told.report
    return bool(set(asked.rows) & set(told.rows))


# ---------------------------------------------------------------- what an answer settles


def answered(builder: TurnBuilder, yes: bool) -> None:
    """Take a yes or a no."""
    if not builder.questions:
        obey(builder, Commanded(command=Command.SKIP)) if not yes and may_be_declined(builder) else answer_offer(
            builder, yes
        )
        return
    question = builder.questions.pop(0)
    if not yes and question.instead:
        confirm(builder, question, question.instead)
        return
    if not yes and question.about is QuestionKind.DOUBT and len(question.readings) == OTHER:
        builder.questions.insert(0, question.model_copy(update={"readings": question.readings[1:]}))
        return
    if not yes:
        _say_not_done(builder, question)
        return
    match question.about:
        case QuestionKind.CANCEL:
            leave(builder)
        case QuestionKind.LEAVE:
            leave(builder, to_return=True)
            if question.dialog is not None and question.dialog in builder.library.scripts:
                start(builder, question.dialog)
        case QuestionKind.CHOICE | QuestionKind.WAY:
            builder.questions.insert(0, question)
            builder.say(SystemKey.HELP_CHOOSE)
        case QuestionKind.DOUBT | QuestionKind.REPLACE | QuestionKind.CHECK:
            keep_reading(builder, question.readings[0], _SETTLED[question.about])
        case QuestionKind.REPORT:
            confirm(builder, question, question.reports)
        case QuestionKind.STOP:
            stopped(builder, question.rows)
        case _:
            assert_never(question.about)


def chosen(builder: TurnBuilder, index: int) -> None:
    """Take one of several; said twice in one breath, it is no answer to what was only asked in this turn."""
    question = builder.questions[0] if builder.questions else None
    if question is not None and builder.asked and question not in builder.asked:
        return
    if question is not None and 0 <= index < len(question.ways):
        builder.questions.pop(0)
        confirm(builder, question, question.ways[index].reports)
        return
    if question is None or not 0 <= index < len(question.readings):
        builder.say(SystemKey.NEEDS_NO_ANSWER if question is None else SystemKey.YES_OR_NO)
        return
    builder.questions.pop(0)
    keep_reading(builder, question.readings[index], DOUBTS)


def _say_not_done(builder: TurnBuilder, question: Question) -> None:
    """Say that a no was taken; a name that was heard wrongly is heard wrongly again, so it may be typed."""
    if question.about in (QuestionKind.CANCEL, QuestionKind.LEAVE, QuestionKind.STOP):
        builder.say(SystemKey.GOES_ON)
        return
    builder.say(
        SystemKey.REPORT_DROPPED if question.about in (QuestionKind.REPORT, QuestionKind.WAY) else SystemKey.DROPPED
    )
    given = question.readings[0].givens[0] if question.readings and builder.spoken else None
    slot = builder.script.slots[given.slot] if given is not None else None
    if slot is not None and slot.kind is SlotKind.TEXT:
        builder.say(SystemKey.SKIP_OR_TYPE if slot.optional else SystemKey.TYPE_IT)
