"""Work beside the loop of the chat: the engine on one thread, speaking on its own."""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime

from bot.record_thread import RecordThread, SharedCommits
from bot.voice.memory import VoiceMemory
from bot.voice.profiles import Profiles
from engine.assistant import Assistant
from engine.dialog.facts.label_shelf import LabelShelf
from engine.dialog.facts.state import ConversationState
from engine.entries.grammar import grammar
from engine.errors import WorldError
from engine.expectation import Expectation
from engine.history.store.journal import Journal, StoredTurn
from engine.history.store.scan import Scan
from engine.messages import Button, Language, Reading, Reply, Utterance
from engine.understanding.reader import understand
from speech.audio import encode_opus
from speech.synthesis.synthesizer import Synthesizer

THREADS, AT_MOST = 2, 8
PATIENCE_S = 10.0
log = logging.getLogger("rowhand.telegram")


class EngineWorker(RecordThread):
    """Answers for many chats on the thread of the record, those of a chat in their order."""

    def __init__(self, assistant: Assistant, journal: Journal, profiles: Profiles) -> None:
        super().__init__(SharedCommits(journal.database, assistant.forget_all))
        self._assistant, self._journal, self._profiles = assistant, journal, profiles
        self._voices: dict[str, VoiceMemory] = {}

    def prepare(self, language: Language) -> None:
        """Read what turns in a language need, beside all work on the record."""
        self._assistant.prepare(language)

    async def hear(self, utterance: Utterance, deliver: Sequence[str]) -> StoredTurn:
        """Take a turn; the first of those it is delivered to spoke, and is asked for what their voice is heard for."""
        turn = await self.do(self.hear_now, utterance, deliver)
        await self.notice(turn, deliver)
        return turn

    async def notice(self, turn: StoredTurn, deliver: Sequence[str]) -> None:
        """Learn what a turn shows of the voice that spoke: once it is on the disk, for what was taken together with
        others may be undone and taken again. Where it fails the turn is kept all the same."""
        if deliver and self.voice(deliver[0]).teaches(turn):
            with contextlib.suppress(WorldError):
                await self.do(self.voice(deliver[0]).notice, turn)

    async def attach(self, utterance: Utterance, scan: Scan, deliver: Sequence[str]) -> StoredTurn:
        """Keep a document with the product that it is for."""
        return await self.do(self._assistant.attach, utterance, scan, deliver)

    async def product_for(self, conversation: str, caption: str) -> str | None:
        """The product that a document with these words under it is for."""
        return await self.do(self._assistant.product_for, conversation, caption)

    async def labels(self, conversation: str) -> LabelShelf:
        """The labels that are kept on the farm of a conversation."""
        return await self.do(self.labels_now, conversation)

    def labels_now(self, conversation: str) -> LabelShelf:
        return self._assistant.labels(conversation)

    def turn_now(self, utterance_id: str) -> StoredTurn | None:
        return self._journal.turn(utterance_id)

    def voice(self, chat: str) -> VoiceMemory:
        """What is known of the voice that speaks in a chat."""
        return self._voices.setdefault(chat, VoiceMemory(self._profiles, chat.replace(":", " "), self._journal))

    def hear_now(self, utterance: Utterance, deliver: Sequence[str]) -> StoredTurn:
        """The same for work that is on the thread of the record already, as all that ends in ``now``; what the turn
        shows of a voice is for ``notice``."""
        if not deliver:
            return self._assistant.hear(utterance, deliver)
        voice = self.voice(deliver[0])
        known = voice.confusions(utterance.text, utterance.language) if utterance.spoken else ()
        return self._assistant.hear(utterance.model_copy(update={"confusions": known}), deliver)

    async def state(self, conversation: str) -> ConversationState:
        return await self.do(self._assistant.state, conversation)

    async def expectation(self, conversation: str) -> Expectation:
        return await self.do(self._assistant.expectation, conversation)

    async def read(self, utterance: Utterance, expected: Expectation) -> Reading:
        """What words would be taken to mean; nothing is kept of them."""
        return await self.do(understand, utterance, expected, self._assistant.vocabulary(expected.language))

    async def language(self, conversation: str) -> Language:
        return (await self.state(conversation)).language

    def language_now(self, conversation: str) -> Language:
        return self._assistant.state(conversation).language

    def is_new_now(self, conversation: str) -> bool:
        """Whether nothing was said in a conversation."""
        return self._assistant.is_new(conversation)

    def seq_now(self, conversation: str, utterance_id: str = "") -> int:
        """The number of the turn of an utterance, of the newest one where it made none; 0 before the first."""
        turn = self.turn_now(utterance_id) if utterance_id else None
        return turn.seq if turn else self._journal.last(conversation)

    def ways_now(self, conversation: str) -> tuple[Button, ...]:
        return self._assistant.ways(conversation)

    async def prompt(self, conversation: str) -> Reply:
        return await self.do(self._assistant.prompt, conversation, datetime.now(UTC))

    async def turn(self, utterance_id: str) -> StoredTurn | None:
        return await self.do(self.turn_now, utterance_id)

    async def seq(self, conversation: str) -> int:
        """The number of the newest turn, 0 before the first."""
        return await self.do(self._journal.last, conversation)

    async def after(self, conversation: str, seq: int) -> tuple[StoredTurn, ...]:
        return await self.do(self._journal.turns, conversation, seq)

    async def numbered(self, conversation: str, seq: int) -> StoredTurn | None:
        """The turn of this number, None where there is none."""
        return next((turn for turn in await self.after(conversation, seq - 1) if turn.seq == seq), None)

    async def ways(self, conversation: str) -> tuple[Button, ...]:
        """What can be begun now, as buttons; nothing where a dialog is open."""
        return await self.do(self._assistant.ways, conversation)

    async def forget(self, conversation: str) -> None:
        await self.do(self._assistant.forget, conversation)

    async def ready(self, conversation: str) -> tuple[Language, str]:
        """The language of a conversation, and the grammar of what may be said in it now."""
        return await self.do(self.ready_now, conversation)

    def ready_now(self, conversation: str) -> tuple[Language, str]:
        expected = self._assistant.expectation(conversation)
        return expected.language, grammar(expected, self._assistant.vocabulary(expected.language))


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
