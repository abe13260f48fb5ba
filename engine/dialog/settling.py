"""What an answer settles: a yes or a no to the open question, or one of several ways."""

from __future__ import annotations

from typing import assert_never

from engine.dialog.absence import stopped
from engine.dialog.commands import leave, may_be_declined, obey, start
from engine.dialog.confirmation import confirm, not_done
from engine.dialog.house import Key
from engine.dialog.keeping import answer_offer, keep_reading
from engine.dialog.question import About
from engine.dialog.walk import Walk
from engine.intents import Command
from engine.messages import Commanded

DOUBTS = frozenset({About.DOUBT, About.CHOICE})
OTHER = 2
"""Of two readings a no leaves the other to be asked; of more it is quicker said again (own decision)."""
_SETTLED = {
    About.DOUBT: DOUBTS,
    About.REPLACE: DOUBTS | {About.REPLACE},
    About.CHECK: DOUBTS | {About.REPLACE, About.CHECK},
}
"""What a yes to a question about a value settles of it."""


def answered(walk: Walk, yes: bool) -> None:
    if not walk.questions:
        obey(walk, Commanded(command=Command.SKIP)) if not yes and may_be_declined(walk) else answer_offer(walk, yes)
        return
    question = walk.questions.pop(0)
    if not yes and question.instead:
        confirm(walk, question, question.instead)
        return
    if not yes and question.about is About.DOUBT and len(question.readings) == OTHER:
        walk.questions.insert(0, question.model_copy(update={"readings": question.readings[1:]}))
        return
    if not yes:
        not_done(walk, question)
        return
    match question.about:
        case About.CANCEL:
            leave(walk)
        case About.LEAVE:
            leave(walk, to_return=True)
            if question.dialog is not None and question.dialog in walk.library.scripts:
                start(walk, question.dialog)
        case About.CHOICE | About.WAY:
            walk.questions.insert(0, question)
            walk.say(Key.HELP_CHOOSE)
        case About.DOUBT | About.REPLACE | About.CHECK:
            keep_reading(walk, question.readings[0], _SETTLED[question.about])
        case About.REPORT:
            confirm(walk, question, question.reports)
        case About.STOP:
            stopped(walk, question.rows)
        case _:
            assert_never(question.about)


def chosen(walk: Walk, index: int) -> None:
    """Take one of several; said twice in one breath, it is no answer to what was only asked in this turn."""
    question = walk.questions[0] if walk.questions else None
    if question is not None and walk.asked and question not in walk.asked:
        return
    if question is not None and 0 <= index < len(question.ways):
        walk.questions.pop(0)
        confirm(walk, question, question.ways[index].reports)
        return
    if question is None or not 0 <= index < len(question.readings):
        walk.say(Key.NEEDS_NO_ANSWER if question is None else Key.YES_OR_NO)
        return
    walk.questions.pop(0)
    keep_reading(walk, question.readings[index], DOUBTS)
