"""Tasks that run beside the loop."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine, Iterable


async def together(works: Iterable[Coroutine[None, None, None]]) -> None:
    """Do them all side by side; where one fails, or this is ended, all end."""
    tasks = [asyncio.create_task(work) for work in works]
    try:
        await asyncio.gather(*tasks)
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


class BackgroundTasks:
    """Begins tasks, and ends at ``stop`` those that still run."""

    def __init__(self) -> None:
        self._tasks: set[asyncio.Task[None]] = set()

    @property
    def is_busy(self) -> bool:
        return bool(self._tasks)

    def begin(self, work: Coroutine[None, None, None]) -> asyncio.Task[None]:
        task = asyncio.create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return task

    async def stop(self) -> None:
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
