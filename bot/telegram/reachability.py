"""Which chats can be written to: kept in the record, known in memory."""

from __future__ import annotations

import asyncio
from datetime import UTC, datetime

from engine.inbox import Gone


class Reach:
    """Chats that blocked the bot are lost until something comes from them again."""

    def __init__(self, gone: Gone) -> None:
        self._gone = gone
        self._lost = set(gone.all())

    def is_lost(self, conversation: str) -> bool:
        return conversation in self._lost

    async def lose(self, conversation: str) -> None:
        self._lost.add(conversation)
        await asyncio.to_thread(self._gone.add, conversation, datetime.now(UTC))

    async def regain(self, conversation: str) -> None:
        if conversation in self._lost:
            await asyncio.to_thread(self._gone.remove, conversation)
            self._lost.discard(conversation)
