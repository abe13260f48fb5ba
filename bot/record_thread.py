"""Work beside the loop of a channel: everything on the record runs on one thread, in the order of the calls."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


class RecordThread:
    """The one thread on which the assistant is used."""

    def __init__(self) -> None:
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="record")

    async def do(self, work: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
        """Any short work on the record, in turn with all else."""
        return await asyncio.get_running_loop().run_in_executor(self._thread, lambda: work(*given, **named))

    def close(self) -> None:
        self._thread.shutdown(wait=True, cancel_futures=True)
