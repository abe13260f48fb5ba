"""How fast messages may leave: so many a second over all chats, and in each a short burst, then its own rate."""

from __future__ import annotations

import asyncio
import time

BURST, CHATS_KEPT = 4, 10_000


class RateLimit:
    """Places in line: ``turn`` returns when one more message may leave."""

    def __init__(self, rate: float, chat_rate: float) -> None:
        self._every_s, self._chat_every_s = 1.0 / rate, 1.0 / chat_rate
        self._next = 0.0
        self._chats: dict[str, float] = {}

    async def turn(self, conversation: str) -> None:
        """Wait for the chat's own place, then for one in the common line."""
        now = time.monotonic()
        await asyncio.sleep(self._chat_wait(conversation, now))
        now = time.monotonic()
        self._next = max(self._next, now) + self._every_s
        await asyncio.sleep(self._next - self._every_s - now)

    def _chat_wait(self, conversation: str, now: float) -> float:
        if len(self._chats) > CHATS_KEPT:
            self._chats = {name: full for name, full in self._chats.items() if full > now}
        full = max(self._chats.get(conversation, 0.0), now) + self._chat_every_s
        self._chats[conversation] = full
        return max(full - now - BURST * self._chat_every_s, 0.0)
