"""Answers that are given anew, and what is said where it is too late for that."""

from __future__ import annotations

from dataclasses import dataclass

from bot.telegram.context import ChatContext
from bot.telegram.edits.editing import Editing, NotReplaced
from bot.telegram.texts import ChatKey
from bot.telegram.updates.update import Visit
from engine.entries.phrases.channel_phrases import said_plainly
from engine.history.store.journal import StoredTurn
from engine.queues.outbox import Outgoing
from engine.queues.outbox_message import TextMessage, words_of

SAID_AGAIN = 60
"""So much of new words is said back where they came too late."""


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
        language = await self.chat.mind.language(visit.talk)
        said = self.chat.texts.say(ChatKey.EDITED_EARLIER, language, said=text[:SAID_AGAIN])
        message = TextMessage(text="\n".join(filter(None, (said, told))))
        earlier = await self.chat.mind.do(self.chat.inbox.earlier, visit.update)
        before = [await self.chat.mind.do(self.chat.outbox.find, f"notice:{one}") for one in earlier]
        is_told = any(one is not None and words_of(one.outgoing.message) == message.text for one in before)
        return () if is_told else (visit.line(message),)
