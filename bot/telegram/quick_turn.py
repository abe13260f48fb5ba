"""The short way of a plain text: heard, answered and done in one visit to the record.

Most of what is typed is this. What needs more than the record, or is for others to hear as well, takes the long way.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from bot.telegram.context import ChatContext
from bot.telegram.updates.update import TypedText, Visit, client_language
from engine.crew.people import Member
from engine.history.store.journal import StoredTurn
from engine.messages import Language
from engine.queues.inbox import Incoming


@dataclass(frozen=True)
class QuickTurn:
    """A text that was taken: who said it, in which language they are spoken to, and the turn, which was delivered to
    ``everyone``."""

    member: Member
    language: Language
    turn: StoredTurn
    everyone: tuple[str, ...]


@dataclass(frozen=True)
class QuickTurns:
    """Takes plain texts of a moderate length."""

    chat: ChatContext

    async def take(self, one: Incoming, said: TypedText) -> QuickTurn | None:
        """None where the long way has to be gone; a turn that was taken before is found again there."""
        taken = await self.chat.engine.do(self._take, one, said)
        if taken is not None:
            await self.chat.engine.notice(taken.turn, taken.everyone)
        return taken

    def _take(self, one: Incoming, said: TypedText) -> QuickTurn | None:
        member = self.chat.crew.seat_now(one.conversation)
        if member is None or said.command or len(said.text) > self.chat.settings.text_characters:
            return None
        visit, language = Visit(one, said, member), self.chat.engine.language_now(member.conversation)
        if self._greets(visit, language) or self.chat.texts.order(said.text, language) is not None:
            return None
        everyone = self.chat.crew.everyone_now(member)
        turn = self.chat.engine.hear_now(visit.utterance(language, said.text), everyone)
        if self.chat.crew.concerns(turn):
            return None
        self.chat.inbox.done(one.update_id, datetime.now(UTC))
        return QuickTurn(member, language, turn, tuple(everyone))

    def _greets(self, visit: Visit, language: Language) -> bool:
        """Whether the conversation begins, and in another language."""
        return client_language(visit.update) not in (None, language) and self.chat.engine.is_new_now(visit.talk)
