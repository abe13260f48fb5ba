"""What an answer settles: a yes or a no to the open question, or one of several ways."""

from __future__ import annotations

from typing import assert_never

from engine.dialog.facts.question import QuestionKind
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.taking.absence import stopped
from engine.dialog.taking.commands import leave, may_be_declined, obey, start
from engine.dialog.taking.confirmation import confirm, not_done
from engine.dialog.taking.slot_filling import answer_offer, keep_reading
from engine.dialog.turns.turn_builder import TurnBuilder
from engine.intents import Command
from engine.messages import Commanded

DOUBTS = frozenset({QuestionKind.DOUBT, QuestionKind.CHOICE})
OTHER = 2
"""Of two readings a no leaves the other to be asked; of more it is quicker said again (own decision)."""
_SETTLED = {
    QuestionKind.DOUBT: DOUBTS,
    QuestionKind.REPLACE: DOUBTS | {QuestionKind.REPLACE},
    QuestionKind.CHECK: DOUBTS | {QuestionKind.REPLACE, QuestionKind.CHECK},
}
"""What a yes to a question about a value settles of it."""


def answered(walk: TurnBuilder, yes: bool) -> None:
    if not walk.questions:
        obey(walk, Commanded(command=Command.SKIP)) if not yes and may_be_declined(walk) else answer_offer(walk, yes)
        return
    question = walk.questions.pop(0)
    if not yes and question.instead:
        confirm(walk, question, question.instead)
        return
    if not yes and question.about is QuestionKind.DOUBT and len(question.readings) == OTHER:
        walk.questions.insert(0, question.model_copy(update={"readings": question.readings[1:]}))
        return
    if not yes:
        not_done(walk, question)
        return
    match question.about:
        case QuestionKind.CANCEL:
            leave(walk)
        case QuestionKind.LEAVE:
            leave(walk, to_return=True)
            if question.dialog is not None and question.dialog in walk.library.scripts:
                start(walk, question.dialog)
        case QuestionKind.CHOICE | QuestionKind.WAY:
            walk.questions.insert(0, question)
            walk.say(SystemKey.HELP_CHOOSE)
        case QuestionKind.DOUBT | QuestionKind.REPLACE | QuestionKind.CHECK:
            keep_reading(walk, question.readings[0], _SETTLED[question.about])
        case QuestionKind.REPORT:
            confirm(walk, question, question.reports)
        case QuestionKind.STOP:
            stopped(walk, question.rows)
        case _:
            assert_never(question.about)


def chosen(walk: TurnBuilder, index: int) -> None:
    """Take one of several; said twice in one breath, it is no answer to what was only asked in this turn."""
    question = walk.questions[0] if walk.questions else None
    if question is not None and walk.asked and question not in walk.asked:
        return
    if question is not None and 0 <= index < len(question.ways):
        walk.questions.pop(0)
        confirm(walk, question, question.ways[index].reports)
        return
    if question is None or not 0 <= index < len(question.readings):
        walk.say(SystemKey.NEEDS_NO_ANSWER if question is None else SystemKey.YES_OR_NO)
        return
    walk.questions.pop(0)
    keep_reading(walk, question.readings[index], DOUBTS)
