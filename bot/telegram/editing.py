"""Messages that were edited after they were sent: what to say to the dialog so that the new words count."""

from __future__ import annotations

from bot.telegram.texts import ChatKey, ChatTexts
from bot.telegram.update import Visit
from bot.telegram.worker import EngineWorker
from engine.dialog.events import Kept, Reopened
from engine.dialog.state import ConversationState
from engine.expectation import Asking, Expectation, ExpectedSlot
from engine.history.journal import StoredTurn
from engine.history.turn_facts import facts_of
from engine.inbox import Inbox
from engine.messages import Given

TAKEN_BACK = ("kept", "skipped")
CLOSING = {"started", "finished", "cancelled", "run_started", "switched"}


class Editing:
    """Finds the turn of an edited message.

    The newest turn is taken back. An older one is opened again where it kept one value that still stands in the same
    run of the same dialog; anything else only the person can correct.
    """

    def __init__(self, mind: EngineWorker, inbox: Inbox, texts: ChatTexts) -> None:
        self._mind, self._inbox, self._texts = mind, inbox, texts

    async def steps(self, visit: Visit) -> tuple[str, ...] | None:
        """What to say before the new words; None where they cannot replace the old ones."""
        old, after = await self._old(visit)
        if old is None or any(fact["kind"] in CLOSING for fact in old.facts):
            return None
        state = await self._mind.state(visit.talk)
        if not after:
            scratch = self._texts.commands["scratch"].says.of(state.language)
            return (scratch,) * sum(fact["kind"] in TAKEN_BACK for fact in old.facts)
        if begun := await self._mind.turn(f"{visit.id}:edit0"):
            return (begun.heard,)
        kept = [fact for fact in facts_of(old) if isinstance(fact, Kept)]
        if len(kept) != 1 or not _stands(kept[0], state) or _moved_on(after):
            return None
        return await self._reopening(visit, kept[0], state)

    async def _reopening(self, visit: Visit, kept: Kept, state: ConversationState) -> tuple[str, ...] | None:
        expected = await self._mind.expectation(visit.talk)
        slot = next((one for one in (*expected.slots, *expected.known) if one.name == kept.slot), None)
        if slot is None or not await self._answers(visit, kept, expected, slot):
            return None
        if kept.row is None:
            return (
                (self._texts.say(ChatKey.CORRECT_SLOT, state.language, name=slot.called[0]),) if slot.called else None
            )
        asked = slot in expected.slots
        return (self._texts.say(ChatKey.CORRECT_ROW, state.language, row=str(kept.row)),) if asked else None

    async def _answers(self, visit: Visit, kept: Kept, expected: Expectation, slot: ExpectedSlot) -> bool:
        """Whether the new words are one value for the same place, beyond doubt."""
        rows = (kept.row,) if kept.row is not None else ()
        alone = slot.model_copy(update={"open_rows": rows, "next_row": kept.row, "next_rows": rows})
        narrow = Expectation(language=expected.language, asking=Asking.SLOT, slots=(alone,), rows=expected.rows)
        entries = (await self._mind.read(visit.utterance(expected.language), narrow)).entries
        one = entries[0] if len(entries) == 1 else None
        return isinstance(one, Given) and (one.slot, one.row, one.doubt) == (kept.slot, kept.row, None)

    async def safe(self, visit: Visit) -> bool:
        """Whether the steps did what they were meant to do: for an older turn, open its value again."""
        old, after = await self._old(visit, mine=True)
        mine = [turn for turn in after if turn.utterance_id.startswith(f"{visit.id}:")]
        if old is None or len(after) == len(mine):
            return True
        kept = next((fact for fact in facts_of(old) if isinstance(fact, Kept)), None)
        opened = [fact for turn in mine for fact in facts_of(turn) if isinstance(fact, Reopened)]
        return kept is not None and [(one.slot, one.row) for one in opened] == [(kept.slot, kept.row)]

    async def _old(self, visit: Visit, mine: bool = False) -> tuple[StoredTurn | None, list[StoredTurn]]:
        """The turn of the message before, and the turns after it; those of this edit only where they are wanted."""
        before = await self._mind.do(self._inbox.earlier, visit.update)
        old = await self._mind.turn(f"telegram:{before}") if before else None
        if old is None or old.conversation != visit.talk:
            return None, []
        after = await self._mind.after(visit.talk, old.seq)
        return old, [turn for turn in after if mine or not f"{turn.utterance_id}:".startswith(f"{visit.id}:")]


def _stands(kept: Kept, state: ConversationState) -> bool:
    dialog = state.dialog
    return (
        dialog is not None
        and not dialog.questions
        and dialog.run == kept.run
        and not kept.together
        and dialog.value(kept.slot, kept.row) == kept.value
    )


def _moved_on(after: list[StoredTurn]) -> bool:
    """Whether another dialog or run began since."""
    return any(fact["kind"] in CLOSING - {"switched"} for turn in after for fact in turn.facts)
