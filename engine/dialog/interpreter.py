"""The interpreter: a pure function of scripts, state and what was understood.

``take`` gives the facts of one turn, the state after them and the reply. Nothing else changes: the same input gives
the same turn on any machine and on any day.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import assert_never

from engine.dialog.expectation_builder import expectation
from engine.dialog.facts.events import Cancelled, Fact, Heard, Wondered
from engine.dialog.facts.neighbours import FarmTold
from engine.dialog.facts.question import Question, QuestionKind, ValueReading, said_again
from engine.dialog.facts.state import ConversationState
from engine.dialog.questions.topics import answer
from engine.dialog.reply.answer_texts import AnswerKey
from engine.dialog.reply.prompts import asked_question, buttons, prompt
from engine.dialog.reply.sentences import in_turn
from engine.dialog.reply.speech_text import shown_text, spoken_text
from engine.dialog.reply.system_texts import SystemKey
from engine.dialog.taking import reentry_interval
from engine.dialog.taking.absence import after_check, leave_out
from engine.dialog.taking.application_taking import changes, say_ended
from engine.dialog.taking.attaching import attach
from engine.dialog.taking.commands import nothing_open, obey, open_dialog, openings, ways
from engine.dialog.taking.confirmation import DOUBTS, answered, chosen, hear, take
from engine.dialog.taking.correction import correct
from engine.dialog.taking.repairs import note_repair
from engine.dialog.taking.slot_filling import alike, give_rows
from engine.dialog.turns.turn_builder import NEVER, TurnBuilder, TurnRules
from engine.dialog.unclear import aside, misheard
from engine.document import Document
from engine.expectation import Expectation
from engine.messages import (
    Answered,
    Asked,
    Button,
    Chosen,
    Commanded,
    Correcting,
    Either,
    Entry,
    Given,
    LeavingOut,
    Opened,
    Repairing,
    Reply,
    Reported,
    Topic,
    Unclear,
)
from engine.messages import Reading as Understood
from engine.reminders.reminder import Change


@dataclass(frozen=True)
class Turn:
    """One turn: what happened, where that leaves the conversation, what is answered, what it does to reminders."""

    facts: tuple[Fact, ...]
    state: ConversationState
    reply: Reply
    reminders: tuple[Change, ...] = ()


@dataclass(frozen=True)
class Interpreter(TurnRules):
    """Walks dialogs by these rules."""

    def expectation(self, state: ConversationState) -> Expectation:
        """What may be said now."""
        return expectation(self.library, state, self.wording(state), self.activities)

    def prompt(self, state: ConversationState, now: datetime = NEVER) -> Reply:
        """What is asked now, for a channel that opens again: the same words as at the end of the last reply, but for a
        look that is overdue by ``now``."""
        return self._reply(self._walk(state, now), SystemKey.WELCOME)

    def ways(self, state: ConversationState) -> tuple[Button, ...]:
        """What can be begun now, as buttons; nothing where a dialog is open."""
        return () if state.dialog is not None else ways(self.library, state.book, self.wording(state))

    def apology(self, state: ConversationState) -> Reply:
        """What is answered when a turn could not be written down."""
        builder = self._walk(state, NEVER)
        return self._worded(builder, [builder.wording.say(SystemKey.WORLD_FAILED)])

    def take(
        self,
        state: ConversationState,
        understood: Understood,
        said_at: datetime,
        before: str = "",
        farm: FarmTold | None = None,
    ) -> Turn:
        """One turn; ``before`` is what was answered last, ``farm`` what other planters told meanwhile. A dialog whose
        script is no longer to be had is left, with its facts in the record."""
        builder = self._walk(state, said_at, farm)
        builder.before = before
        if state.dialog is not None and self.library.script(state.dialog.script) is None:
            builder.add(Cancelled(dialog=state.dialog.dialog, phase=state.dialog.phase))
            builder.questions = []
            for asked in understood.entries:
                if isinstance(asked, Asked) and asked.topic is Topic.EMERGENCY:
                    answer(builder, asked)
            builder.say(SystemKey.LOST_DIALOG, dialogs=openings(self.library, builder.wording))
        else:
            builder.spoken = understood.spoken
            if state.misheard and any(not isinstance(entry, Unclear) for entry in understood.entries):
                builder.add(Heard())
            if not understood.entries:
                aside(builder)
            for entries in _gathered(understood.entries):
                self._enter_all(builder, entries)
            if understood.left:
                builder.say(AnswerKey.NOT_TAKEN, said=", ".join(understood.left))
            self._settle(builder)
            say_ended(builder, state.book)
        return self._turn(builder, state)

    def attach(
        self,
        state: ConversationState,
        document: Document,
        caption: str,
        said_at: datetime,
        farm: FarmTold | None = None,
    ) -> Turn:
        """One turn in which a document came, with words under it; ``farm`` is what other planters told meanwhile."""
        builder = self._walk(state, said_at, farm)
        attach(builder, document, caption)
        return self._turn(builder, state)

    def _turn(self, builder: TurnBuilder, state: ConversationState) -> Turn:
        reminders = tuple(one for each in self.activities.values() for one in each.reminders(state, builder.state))
        reminders += changes(state.book, builder.state.book, builder) + reentry_interval.changes(
            state, builder.state, builder
        )
        return Turn(tuple(builder.facts), builder.state, self._reply(builder, None), reminders)

    def _walk(self, state: ConversationState, now: datetime, farm: FarmTold | None = None) -> TurnBuilder:
        """A turn that begins, with what other planters told as its first fact."""
        builder = TurnBuilder(self, state, now)
        if farm is not None:
            builder.add(farm)
        return builder

    def _enter_all(self, builder: TurnBuilder, entries: tuple[Entry, ...]) -> None:
        givens = [entry for entry in entries if isinstance(entry, Given)]
        reports = [entry for entry in entries if isinstance(entry, Reported)]
        if reports and builder.state.dialog is not None:
            hear(builder, reports)
            return
        if builder.state.dialog is None or not givens:
            for entry in entries:
                self._enter(builder, entry)
            return
        for same in alike(givens):
            pending = builder.questions[0] if builder.questions and builder.questions[0] in builder.asked else None
            give_rows(builder, same, DOUBTS if said_again(pending, same) else frozenset())

    def _enter(self, builder: TurnBuilder, entry: Entry) -> None:
        match entry:
            case Commanded():
                self._obey(builder, entry)
            case Asked():
                answer(builder, entry)
            case Opened():
                open_dialog(builder, entry)
            case LeavingOut():
                leave_out(builder, entry)
            case Repairing():
                note_repair(builder, entry)
            case Unclear():
                misheard(builder, entry)
            case Reported():
                take(builder, (entry,))
            case Given():
                nothing_open(builder)
            case Either() | Answered() | Chosen() | Correcting():
                if builder.state.dialog is None:
                    nothing_open(builder)
                else:
                    _inside(builder, entry)
            case _:
                assert_never(entry)

    def _obey(self, builder: TurnBuilder, commanded: Commanded) -> None:
        told = builder.activity.meant(builder, commanded) if builder.activity else None
        if told is None:
            obey(builder, commanded)
        else:
            take(builder, (told,))

    def _settle(self, builder: TurnBuilder) -> None:
        """After all entries: note the open questions, go on if there are none, let what watches settle."""
        self._go_on(builder)
        after_check(builder)
        if builder.activity is not None:
            builder.activity.keep(builder)

    def _go_on(self, builder: TurnBuilder) -> None:
        dialog = builder.state.dialog
        if dialog is None:
            return
        if tuple(builder.questions) != dialog.questions:
            builder.add(Wondered(questions=tuple(builder.questions)))
        if builder.questions or not builder.dialog.step:
            return
        again = builder.back_to is not None
        start_at = builder.back_to if builder.back_to is not None else builder.script.places[builder.dialog.step]
        builder.go_on(start_at, again=again)

    def _reply(self, builder: TurnBuilder, idle: SystemKey | None) -> Reply:
        lines, dialog, misheard = list(builder.lines), builder.state.dialog, builder.state.misheard
        script = self.library.script(dialog.script) if dialog else None
        if dialog is None and (idle is not None or not lines):
            told = openings(self.library, builder.wording)
            lines.append(builder.wording.say(idle or SystemKey.NOTHING_OPEN, dialogs=told))
        if dialog is None or script is None:
            return self._worded(builder, lines)
        if dialog.questions and not builder.waits:
            asked, scripts = dialog.questions[0], self.library.scripts
            lines.append(asked_question(asked, script, dialog, builder.wording, scripts, misheard))
        elif not builder.waits:
            lines.append(prompt(script, dialog, builder.wording, misheard, builder.now, builder.activity))
        return self._worded(builder, lines, buttons(script, dialog, builder.wording, misheard))

    def _worded(self, builder: TurnBuilder, lines: list[str], closed: tuple[Button, ...] = ()) -> Reply:
        told = in_turn(lines, builder.wording)
        return Reply(text=shown_text(told), speech=spoken_text(told, builder.state.language), buttons=closed)


def _gathered(entries: tuple[Entry, ...]) -> list[tuple[Entry, ...]]:
    """Values that follow each other put together, and so reports."""
    groups = groupby(entries, key=lambda one: type(one) if isinstance(one, Given | Reported) else id(one))
    return [tuple(group) for _, group in groups]


def _inside(builder: TurnBuilder, entry: Either | Answered | Chosen | Correcting) -> None:
    match entry:
        case Correcting():
            correct(builder, entry)
        case Either(readings=readings, alike=alike):
            run = builder.dialog.run
            both = tuple(ValueReading(givens=givens, run=run) for givens in readings)
            alone = alike and len(readings[0]) == 1
            builder.questions.append(
                Question(about=QuestionKind.DOUBT if alone else QuestionKind.CHOICE, readings=both)
            )
        case Answered(yes=yes):
            answered(builder, yes)
        case Chosen(index=index):
            chosen(builder, index)
        case _:
            assert_never(entry)
