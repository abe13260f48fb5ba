"""What every part of the chat works with."""

from __future__ import annotations

from dataclasses import dataclass

from bot.settings import Settings
from bot.telegram.access import Crew
from bot.telegram.texts import ChatTexts
from bot.telegram.worker import EngineWorker
from engine.queues.inbox import Inbox
from engine.queues.outbox import Outbox


@dataclass(frozen=True)
class ChatContext:
    """The engine on the thread of its record, what came and what is to be sent, who is who, and the texts."""

    mind: EngineWorker
    inbox: Inbox
    outbox: Outbox
    crew: Crew
    texts: ChatTexts
    settings: Settings
