"""One update of somebody who is answered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bot.telegram.update import Content, IncomingVoice, said_at
from engine.inbox import Incoming
from engine.messages import Language, Utterance
from engine.outbox import Outgoing
from engine.people import Member


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

    def line(self, text: str, part: str = "", **more: object) -> Outgoing:
        """A message to this chat; ``part`` tells several apart."""
        key = f"notice:{self.update.update_id}{part}"
        return Outgoing(key, self.chat, {"text": text, **more}, self.update.received_at)
