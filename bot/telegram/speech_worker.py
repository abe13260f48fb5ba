"""Words to voice notes, on threads of their own and in bounded time; where that fails there is only the text."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

from engine.messages import Language
from speech.opus import encode_opus
from speech.synthesizer import Synthesizer

THREADS, AT_MOST = 2, 8
PATIENCE_S = 10.0
log = logging.getLogger("rowhand.telegram")

Choose = Callable[[Language], Synthesizer | None]
"""Gives the voice of a language, None where none is installed."""


@dataclass(frozen=True)
class VoiceNote:
    """A text as sound: Ogg with Opus inside, ``duration_s`` seconds long."""

    sound: bytes
    duration_s: float


class Full(Exception):
    """Too much is being said already."""


class SpeechWorker:
    """Speaks with the voices that ``choose`` gives; gives up after ``patience_s`` seconds (ten unless given)."""

    def __init__(self, choose: Choose, patience_s: float | None = None) -> None:
        self._choose, self._patience_s = choose, patience_s or PATIENCE_S
        self._threads = ThreadPoolExecutor(THREADS, thread_name_prefix="mouth")
        self._busy = 0

    @property
    def is_full(self) -> bool:
        return self._busy >= AT_MOST

    async def note(self, text: str, language: Language) -> VoiceNote | None:
        """The text as a voice note; None without a voice, when it fails, or when too much is asked at once."""
        if self.is_full:
            log.warning("voice skipped busy=%d", self._busy)
            return None
        self._busy += 1
        work = asyncio.get_running_loop().run_in_executor(self._threads, self._spoken, text, language)
        work.add_done_callback(self._free)
        try:
            return await asyncio.wait_for(asyncio.shield(work), self._patience_s)
        except Exception as error:
            log.warning("voice failed error=%s", type(error).__name__)
            return None

    def _free(self, work: asyncio.Future[VoiceNote | None]) -> None:
        self._busy -= 1
        if not work.cancelled():
            work.exception()

    def _spoken(self, text: str, language: Language) -> VoiceNote | None:
        voice = self._choose(language)
        if voice is None:
            return None
        clip = voice.speak(text)
        return VoiceNote(encode_opus(clip), clip.duration_s)

    def close(self) -> None:
        self._threads.shutdown(wait=False, cancel_futures=True)
