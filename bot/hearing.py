"""Hearing recordings beside a loop: decoded and recognised in processes, so that one that dies takes nothing along."""

from __future__ import annotations

import asyncio
import multiprocessing
import os
import threading
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from speech.audio import decode
from speech.errors import AudioError, AudioFault, ModelBroken, ModelMissing
from speech.recognizer_choice import Preference, choose
from speech.transcript import Transcript


@dataclass(frozen=True)
class FailedHearing:
    """A recording that gave no words: because of a ``fault`` of it, or where that is None for want of a model."""

    fault: AudioFault | None


def transcribe(
    content: bytes, language: str, grammar: str, preference: Preference, seconds: float, models: Path | None = None
) -> Transcript | FailedHearing:
    """Decode and recognise; runs in a process of its own, so that trouble comes back as a value."""
    try:
        return choose(language, preference, models).transcribe(decode(content, seconds), language, grammar)
    except AudioError as error:
        return FailedHearing(error.reason)
    except (ModelMissing, ModelBroken):
        return FailedHearing(None)


class HearingPool:
    """Hears with ``workers`` processes, which start with the first recording; ``models`` as for ``choose``."""

    def __init__(self, workers: int, preference: Preference, seconds: float, models: Path | None = None) -> None:
        self._workers, self._preference, self._seconds, self._models = workers, preference, seconds, models
        self._pool: ProcessPoolExecutor | None = None

    async def hear(self, content: bytes, language: str, grammar: str) -> Transcript | FailedHearing:
        """The words; a recording that kills its process twice is unreadable."""
        for _ in range(2):
            pool = self._pool = self._pool or _started(self._workers)
            work = partial(transcribe, content, language, grammar, self._preference, self._seconds, self._models)
            try:
                return await asyncio.get_running_loop().run_in_executor(pool, work)
            except BrokenProcessPool:
                self._pool = None if self._pool is pool else self._pool
        return FailedHearing(AudioFault.UNREADABLE)

    def close(self) -> None:
        if self._pool:
            self._pool.shutdown(wait=False, cancel_futures=True)


def _started(workers: int) -> ProcessPoolExecutor:
    return ProcessPoolExecutor(workers, multiprocessing.get_context("spawn"), initializer=_end_with_parent)


def _end_with_parent() -> None:
    """A worker whose parent was killed ends too."""
    parent = multiprocessing.parent_process()
    assert parent is not None

    def watch() -> None:
        parent.join()
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
