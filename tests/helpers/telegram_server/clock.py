"""The server's clock, which a test can set forward, and the bell that wakes whoever waits for something new."""

from __future__ import annotations

import asyncio
import time


class Clock:
    """Seconds since 1970, real time plus what a test added."""

    def __init__(self) -> None:
        self.ahead = 0.0

    def now(self) -> float:
        return time.time() + self.ahead

    def forward(self, seconds: float) -> None:
        self.ahead += seconds


class Bell:
    """Wakes everybody who waits, once a ring."""

    def __init__(self) -> None:
        self._event = asyncio.Event()

    def ring(self) -> None:
        self._event.set()
        self._event = asyncio.Event()

    async def wait(self, seconds: float) -> None:
        """Until the next ring, or until the seconds are over."""
        try:
            async with asyncio.timeout(max(seconds, 0)):
                await self._event.wait()
        except TimeoutError:
            return
