"""Every chat strictly in order, all chats side by side."""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Awaitable, Callable, Iterable

from engine.inbox import Incoming


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
