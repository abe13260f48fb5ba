"""What every part of the chat works with."""

from __future__ import annotations

from dataclasses import dataclass

from bot.settings import Settings
from bot.telegram.access import ChatAccess
from bot.telegram.texts import ChatTexts
from bot.telegram.worker import EngineWorker
from engine.queues.inbox import Inbox
from engine.queues.outbox import Outbox


@dataclass(frozen=True)
class ChatContext:
    """The engine on the thread of its record, what came and what is to be sent, who is who, and the texts."""

    engine: EngineWorker
    inbox: Inbox
    outbox: Outbox
    crew: ChatAccess
    texts: ChatTexts
    settings: Settings
