"""Updates on their way in: each on the disk before it is confirmed, each chat strictly in order, all side by side, and
which chats can be written to."""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Awaitable, Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from bot.telegram.updates.update import incoming
from engine.errors import WorldError
from engine.queues.inbox import Gone, Inbox, Incoming

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


class Chats:
    """One queue for each chat that has something to do; ``work`` gets its updates one after another."""

    def __init__(self, work: Callable[[Incoming], Awaitable[None]]) -> None:
        self._work = work
        self._queues: dict[str, deque[Incoming]] = {}
        self._tasks: set[asyncio.Task[None]] = set()

    def take(self, updates: Iterable[Incoming]) -> None:
        for one in updates:
            queue = self._queues.get(one.conversation)
            if queue is None:
                self._queues[one.conversation] = deque([one])
                self._start(one.conversation)
            else:
                queue.append(one)

    def _start(self, conversation: str) -> None:
        task = asyncio.create_task(self._run(conversation))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _run(self, conversation: str) -> None:
        queue = self._queues[conversation]
        while queue:
            await self._work(queue[0])
            queue.popleft()
        del self._queues[conversation]

    async def stop(self) -> None:
        """Drop what waits: it is in the inbox and comes again."""
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)


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
