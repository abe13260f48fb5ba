"""Reports that are asked back before they are taken: heard too unsurely, hardly possible, or meant in several ways."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from math import ceil

from engine.clock import Ago, Moment
from engine.dialog.facts.question import Question, QuestionKind
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.entries.matching.report_parser import TIMED
from engine.expectation import SlotKind
from engine.messages import Report, Reported
from engine.quantities import Measure

MINUTE = timedelta(minutes=1)
AT_ONCE = MINUTE
"""A yes that takes longer says nothing of how it is now (own decision)."""
_SINCE_PROOF = frozenset({Report.STOPPED, Report.HIGH})
"""What is in doubt reaches back to the last proof, so that a later yes loses nothing."""


def hear(walk: TurnBuilder, reports: Sequence[Reported]) -> None:
    """Take what was heard surely and ask for the rest; a question about what is told anew is dropped.

    Twice the same is not sure: what is misheard once is misheard again.
    """
    walk.questions = [question for question in walk.questions if not _is_told_anew(question, reports)]
    sure = [told for told in reports if told.doubt is None]
    if sure:
        take(walk, sure)
    doubtful = tuple(told for told in reports if told.doubt is not None)
    if doubtful:
        walk.questions.insert(0, Question(about=QuestionKind.REPORT, reports=doubtful, at=walk.now))


def take(walk: TurnBuilder, reports: Sequence[Reported]) -> None:
    """Hand reports to the activity that watches; they mean nothing where none does."""
    if walk.activity is None:
        walk.say(SystemKey.UNCLEAR_UNKNOWN_WORDS)
    else:
        walk.activity.take(walk, reports)


def confirm(walk: TurnBuilder, question: Question, reports: Sequence[Reported]) -> None:
    """Take the reports that an answer gives, as of when the question was asked; what may have changed since is to be
    told anew."""
    passed = max(walk.now - question.at, timedelta()) if question.at is not None else timedelta()
    told = [later(passed, one) for one in reports]
    still = [one for one in told if one is not None]
    if still:
        take(walk, still)
    if len(still) < len(told):
        walk.say(SystemKey.REPORT_LATE, minutes=str(ceil(passed / MINUTE)))


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


def not_done(walk: TurnBuilder, question: Question) -> None:
    """Say that a no was taken; a name that was heard wrongly is heard wrongly again, so it may be typed."""
    if question.about in (QuestionKind.CANCEL, QuestionKind.LEAVE, QuestionKind.STOP):
        walk.say(SystemKey.GOES_ON)
        return
    walk.say(
        SystemKey.REPORT_DROPPED if question.about in (QuestionKind.REPORT, QuestionKind.WAY) else SystemKey.DROPPED
    )
    given = question.readings[0].givens[0] if question.readings and walk.spoken else None
    slot = walk.script.slots[given.slot] if given is not None else None
    if slot is not None and slot.kind is SlotKind.TEXT:
        walk.say(SystemKey.SKIP_OR_TYPE if slot.optional else SystemKey.TYPE_IT)
