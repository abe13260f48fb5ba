"""An answer that is given anew, by editing its message or by another button: what to say to the dialog so that the new
words count instead of the old ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from bot.telegram.context import ChatContext
from bot.telegram.texts import ChatKey, ChatTexts
from bot.telegram.updates.update import Visit
from bot.telegram.worker import EngineWorker
from engine.dialog.activity import KeptReport
from engine.dialog.facts.book_facts import RepairDropped, RowsRepaired
from engine.dialog.facts.events import (
    Cancelled,
    Finished,
    Kept,
    LeftOut,
    Reopened,
    RunStarted,
    Skipped,
    Started,
    Switched,
    TakenBack,
    TakenIn,
    Withdrawn,
    Wondered,
)
from engine.dialog.facts.question import Question
from engine.dialog.facts.state import ConversationState
from engine.entries.phrases.channel_phrases import said_plainly
from engine.expectation import Asking, Expectation, ExpectedSlot
from engine.history.store.journal import StoredTurn
from engine.history.store.turn_facts import facts_of
from engine.messages import Given
from engine.queues.inbox import Inbox
from engine.queues.outbox import Outgoing
from engine.queues.outbox_message import TextMessage, words_of

DONE = Kept | Skipped | LeftOut | RowsRepaired | KeptReport
UNDONE = Withdrawn | TakenBack | TakenIn | RepairDropped
CLOSING = Started | Finished | Cancelled
LOOK_BACK = 50
"""So many turns are looked through for what was asked before."""
SAID_AGAIN = 60
"""So much of new words is said back where they came too late."""


@dataclass(frozen=True)
class EditPlan:
    """What to say before the new words; what that has to undo, or the value that it has to open again."""

    steps: tuple[str, ...]
    undoes: int = 0
    opens: Kept | None = None


@dataclass(frozen=True)
class NotReplaced:
    """An answer that could not be given anew; ``told`` is what was answered last, where somebody else spoke between."""

    told: str = ""


class Editing:
    """Gives an answer anew.

    That of the newest turn is taken back whole, as "scratch that" does. An older one is opened again where it kept one
    value that still stands in the same run of the same dialog; anything else only the person can correct.
    """

    def __init__(self, engine: EngineWorker, inbox: Inbox, texts: ChatTexts) -> None:
        self._engine, self._inbox, self._texts = engine, inbox, texts

    async def edited(self, visit: Visit) -> StoredTurn | None:
        """The turn of the message as it was before."""
        for before in await self._engine.do(self._inbox.earlier, visit.update):
            old = await self._engine.turn(f"telegram:{before}")
            if old is not None:
                return old if old.conversation == visit.talk else None
        return None

    async def replace(
        self, visit: Visit, old: StoredTurn, text: str, deliver: Sequence[str]
    ) -> StoredTurn | NotReplaced:
        """Hear the text instead of what the turn ``old`` heard, where that is safe."""
        plan = await self.plan(visit, old, text)
        if plan is None:
            return NotReplaced()
        told = ""
        for number, step in enumerate(plan.steps):
            language = await self._engine.language(visit.talk)
            told = (await self._engine.hear(visit.utterance(language, step, f":edit{number}"), ())).reply.text
        if not await self._did(visit, old, plan):
            return NotReplaced(told)
        return await self._engine.hear(visit.utterance(await self._engine.language(visit.talk), text), deliver)

    async def plan(self, visit: Visit, old: StoredTurn, text: str) -> EditPlan | None:
        """None where the new words cannot replace the old ones."""
        facts = facts_of(old)
        if any(isinstance(fact, CLOSING | Switched) for fact in facts):
            return None
        after = [turn for turn in await self._engine.after(visit.talk, old.seq) if not _is_of(visit, turn)]
        done = [fact for fact in facts if isinstance(fact, DONE)]
        state, begun = await self._engine.state(visit.talk), await self._engine.turn(f"{visit.id}:edit0")
        if not after and (plan := await self._undoing(old, done, state, begun is not None)) is not None:
            return plan
        one = done[0] if len(done) == 1 else None
        if not isinstance(one, Kept) or any(map(_moves_on, after)):
            return None
        if begun is not None:
            return EditPlan((begun.heard,), opens=one)
        return await self._reopening(visit, one, state, text) if _stands(one, state, bool(after)) else None

    async def _undoing(
        self, old: StoredTurn, done: Sequence[DONE], state: ConversationState, begun: bool
    ) -> EditPlan | None:
        """Take back all that the newest turn did; None where something else would go with it."""
        facts = facts_of(old)
        before = await self._asked_before(old)
        asked = next((fact.questions for fact in reversed(facts) if isinstance(fact, Wondered)), before)
        fresh = sum(one not in before for one in asked)
        if before and (fresh or done):
            return None
        last = tuple(one.did for one in state.dialog.undo) if state.dialog else ()
        if done and not begun and last[-len(done) :] != tuple(done):
            return None
        if not done and any(isinstance(fact, UNDONE) for fact in facts):
            return None
        scratch = self._texts.commands["scratch"].says.of(state.language)
        return EditPlan((scratch,) * (fresh + _sayings(done)), undoes=len(done))

    async def _asked_before(self, old: StoredTurn) -> tuple[Question, ...]:
        """What was asked when the turn began."""
        turns = await self._engine.after(old.conversation, max(old.seq - LOOK_BACK, 0))
        facts = [fact for turn in turns if turn.seq < old.seq for fact in facts_of(turn)]
        last = next((fact for fact in reversed(facts) if isinstance(fact, Wondered | CLOSING)), None)
        return last.questions if isinstance(last, Wondered) else ()

    async def _reopening(self, visit: Visit, kept: Kept, state: ConversationState, text: str) -> EditPlan | None:
        expected = await self._engine.expectation(visit.talk)
        slot = next((one for one in (*expected.slots, *expected.known) if one.name == kept.slot), None)
        if slot is None or not await self._answers(visit, kept, expected, slot, text):
            return None
        if kept.row is None and slot.called:
            return EditPlan((self._texts.say(ChatKey.CORRECT_SLOT, state.language, name=slot.called[0]),), opens=kept)
        if kept.row is None or slot not in expected.slots:
            return None
        return EditPlan((self._texts.say(ChatKey.CORRECT_ROW, state.language, row=str(kept.row)),), opens=kept)

    async def _answers(self, visit: Visit, kept: Kept, expected: Expectation, slot: ExpectedSlot, text: str) -> bool:
        """Whether the new words are one value for the same place, beyond doubt."""
        rows = (kept.row,) if kept.row is not None else ()
        alone = slot.model_copy(update={"open_rows": rows, "next_row": kept.row, "next_rows": rows})
        narrow = Expectation(language=expected.language, asking=Asking.SLOT, slots=(alone,), rows=expected.rows)
        entries = (await self._engine.read(visit.utterance(expected.language, text), narrow)).entries
        one = entries[0] if len(entries) == 1 else None
        return isinstance(one, Given) and (one.slot, one.row, one.doubt) == (kept.slot, kept.row, None)

    async def _did(self, visit: Visit, old: StoredTurn, plan: EditPlan) -> bool:
        """Whether the steps did what they were meant to do, and nothing came between them."""
        mine = [turn for turn in await self._engine.after(visit.talk, old.seq) if turn.utterance_id != visit.id]
        facts = [fact for turn in mine if _is_of(visit, turn) for fact in facts_of(turn)]
        if plan.opens is not None:
            opened = [(fact.slot, fact.row) for fact in facts if isinstance(fact, Reopened)]
            return opened == [(plan.opens.slot, plan.opens.row)]
        return all(_is_of(visit, turn) for turn in mine) and plan.undoes == sum(
            isinstance(fact, UNDONE) for fact in facts
        )


def _is_of(visit: Visit, turn: StoredTurn) -> bool:
    return f"{turn.utterance_id}:".startswith(f"{visit.id}:")


def _sayings(done: Sequence[DONE]) -> int:
    """How often "scratch that" takes these back: rows that were told together go together."""
    together = groupby(done, key=lambda one: one.together if isinstance(one, Kept) and len(one.together) > 1 else one)
    return sum(1 for _ in together)


def _stands(kept: Kept, state: ConversationState, is_older: bool) -> bool:
    """Whether a value still counts, and, of an older answer, nothing is asked about another one."""
    dialog = state.dialog
    return (
        dialog is not None
        and not (is_older and dialog.questions)
        and dialog.run == kept.run
        and not kept.together
        and dialog.value(kept.slot, kept.row) == kept.value
    )


def _moves_on(turn: StoredTurn) -> bool:
    """Whether another dialog or run began in a turn."""
    return any(isinstance(fact, CLOSING | RunStarted) for fact in facts_of(turn))


@dataclass(frozen=True)
class AnswerReplacement:
    """Replaces an answer by another one; gives what is to be sent beside the reply."""

    editing: Editing
    chat: ChatContext

    async def edited(self, visit: Visit, text: str) -> tuple[Outgoing, ...]:
        """A message has other words now; the same ones once more are nothing new."""
        old = await self.editing.edited(visit)
        if old is not None and said_plainly(old.heard) == said_plainly(text):
            return ()
        return await self._closed(visit, text) if old is None else await self.replaced(visit, old, text)

    async def replaced(self, visit: Visit, old: StoredTurn, text: str) -> tuple[Outgoing, ...]:
        """Hear the text instead of what the turn heard; where that is not safe it is only said."""
        turn = await self.editing.replace(visit, old, text, await self.chat.crew.everyone(visit.member))
        if isinstance(turn, NotReplaced):
            return await self._closed(visit, text, turn.told)
        return await self.chat.crew.told(turn, visit)

    async def _closed(self, visit: Visit, text: str, told: str = "") -> tuple[Outgoing, ...]:
        """Once for each new wording: the same edit may come twice."""
        language = await self.chat.engine.language(visit.talk)
        said = self.chat.texts.say(ChatKey.EDITED_EARLIER, language, said=text[:SAID_AGAIN])
        message = TextMessage(text="\n".join(filter(None, (said, told))))
        earlier = await self.chat.engine.do(self.chat.inbox.earlier, visit.update)
        before = [await self.chat.engine.do(self.chat.outbox.find, f"notice:{one}") for one in earlier]
        is_told = any(one is not None and words_of(one.outgoing.message) == message.text for one in before)
        return () if is_told else (visit.line(message),)
