"""One update of somebody who is answered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from bot.telegram.update import Content, IncomingVoice, said_at
from engine.inbox import Incoming
from engine.messages import Language, Utterance
from engine.outbox import Outgoing
from engine.outbox_message import OutboxMessage, TextMessage
from engine.people import Member


@dataclass(frozen=True)
class Addressed:
    """An answer that goes to another chat."""

    message: TextMessage
    to: str


Answer = OutboxMessage | Addressed


@dataclass(frozen=True)
class Visit:
    """What came, what it means, and who it came from."""

    update: Incoming
    what: Content
    member: Member

    @property
    def chat(self) -> str:
        return self.update.conversation

    @property
    def talk(self) -> str:
        """The conversation that the person takes part in."""
        return self.member.conversation

    @property
    def id(self) -> str:
        """Names the turn that this update makes; the same whenever it is handled."""
        return f"telegram:{self.update.update_id}"

    @property
    def said_at(self) -> datetime:
        return said_at(self.update)

    @property
    def spoken(self) -> bool:
        return isinstance(self.what, IncomingVoice)

    def utterance(self, language: Language, text: str | None = None, part: str = "") -> Utterance:
        """What was typed, as the engine takes it; ``part`` names a step on the way to the turn of this update."""
        words = text if text is not None else getattr(self.what, "text", "")
        return Utterance(
            id=f"{self.id}{part}", conversation=self.talk, text=words, language=language, said_at=self.said_at
        )

    def line(self, message: OutboxMessage) -> Outgoing:
        """The message to this chat that answers the update alone."""
        return Outgoing(f"notice:{self.update.update_id}", self.chat, message, self.update.received_at)

    def lines(self, answers: Sequence[Answer], seq: int) -> tuple[Outgoing, ...]:
        """Several, in order; their buttons answer the turn ``seq`` where they do not say which."""
        return tuple(self._numbered(number, answer, seq) for number, answer in enumerate(answers))

    def _numbered(self, number: int, answer: Answer, seq: int) -> Outgoing:
        message, to = (answer.message, answer.to) if isinstance(answer, Addressed) else (answer, self.chat)
        if isinstance(message, TextMessage) and message.seq is None:
            message = message.model_copy(update={"seq": seq})
        return Outgoing(f"notice:{self.update.update_id}:{number}", to, message, self.update.received_at)
