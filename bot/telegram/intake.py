"""Updates that are brought one by one, kept together: each is on the disk before anybody hears that it was taken."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from bot.telegram.update import incoming
from engine.errors import WorldError
from engine.inbox import Inbox, Incoming

HOLD_S = 0.5
"""How long a button press waits for what was sent before it: the server brings presses on a way of their own."""
AT_ONCE = 100
log = logging.getLogger("rowhand.telegram")


@dataclass(frozen=True)
class _Brought:
    one: Incoming
    kept: asyncio.Future[None]


class Intake:
    """Keeps what is brought, in one transaction at a time; ``take`` gets what is new, in order, once it is kept."""

    def __init__(self, inbox: Inbox, take: Callable[[Sequence[Incoming]], None]) -> None:
        self._inbox, self._take = inbox, take
        self._brought: asyncio.Queue[_Brought] = asyncio.Queue()
        self._newest = 0
        self._moved = asyncio.Condition()

    async def keep(self, raw: dict[str, Any]) -> None:
        """Return when the update is on the disk; raises WorldError, and whatever an impossible update raises."""
        one = incoming(raw, datetime.now(UTC))
        if "callback_query" in raw:
            await self._in_turn(one.update_id)
        brought = _Brought(one, asyncio.get_running_loop().create_future())
        self._brought.put_nowait(brought)
        await brought.kept

    async def _in_turn(self, number: int) -> None:
        """Wait a moment for the updates with the numbers before this one, where it is known that some are missing."""
        try:
            async with asyncio.timeout(HOLD_S), self._moved:
                await self._moved.wait_for(lambda: not self._newest or self._newest >= number - 1)
        except TimeoutError:
            return

    async def run(self) -> None:
        """Keep for ever what is brought."""
        while True:
            batch = [await self._brought.get()]
            while len(batch) < AT_ONCE and not self._brought.empty():
                batch.append(self._brought.get_nowait())
            await self._settle(batch)

    async def _settle(self, batch: list[_Brought]) -> None:
        """All at once; where one of them cannot be kept at all, one by one."""
        error = await self._put(batch)
        if error is None or isinstance(error, WorldError) or len(batch) == 1:
            _tell(batch, error)
            return
        for brought in batch:
            _tell([brought], await self._put([brought]))

    async def _put(self, batch: list[_Brought]) -> Exception | None:
        ones = [brought.one for brought in batch]
        try:
            fresh = await asyncio.to_thread(self._inbox.put, ones)
        except Exception as error:
            log.warning("inbox failed updates=%d error=%s", len(ones), type(error).__name__)
            return error
        log.info("received updates=%d new=%d", len(ones), len(fresh))
        self._take(fresh)
        async with self._moved:
            self._newest = max(self._newest, *(one.update_id for one in ones))
            self._moved.notify_all()
        return None


def _tell(batch: list[_Brought], error: Exception | None) -> None:
    for brought in batch:
        if brought.kept.done():
            continue
        if error is None:
            brought.kept.set_result(None)
        else:
            brought.kept.set_exception(error)
