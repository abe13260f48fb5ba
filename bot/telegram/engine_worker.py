"""The assistant on a thread of its own: one turn at a time, and the chats never wait for the disk."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from typing import ParamSpec, TypeVar

from bot.voice.memory import VoiceMemory
from bot.voice.profiles import Profiles
from engine.assistant import Assistant
from engine.dialog.state import ConversationState
from engine.entries.grammar import grammar
from engine.expectation import Expectation
from engine.history.journal import Journal, StoredTurn
from engine.history.scan import Scan
from engine.messages import Language, Reading, Reply, Utterance
from engine.understanding.reader import understand

P = ParamSpec("P")
T = TypeVar("T")


class EngineWorker:
    """Answers for many chats; every call runs on the one thread, in the order of the calls."""

    def __init__(self, assistant: Assistant, journal: Journal, profiles: Profiles) -> None:
        self._assistant, self._journal, self._profiles = assistant, journal, profiles
        self._voices: dict[str, VoiceMemory] = {}
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="mind")

    async def do(self, work: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
        """Any short work on the record, in turn with all else."""
        return await asyncio.get_running_loop().run_in_executor(self._thread, lambda: work(*given, **named))

    async def hear(self, utterance: Utterance, deliver: Sequence[str]) -> StoredTurn:
        """Take a turn; the first of those it is delivered to spoke, and is asked for what their voice is heard for."""
        return await self.do(self._hear, utterance, deliver)

    async def attach(self, utterance: Utterance, scan: Scan, deliver: Sequence[str]) -> StoredTurn:
        """Keep a document with the product that it is for."""
        return await self.do(self._assistant.attach, utterance, scan, deliver)

    async def product_for(self, conversation: str, caption: str) -> str | None:
        """The product that a document with these words under it is for."""
        return await self.do(self._assistant.product_for, conversation, caption)

    def voice(self, chat: str) -> VoiceMemory:
        """What is known of the voice that speaks in a chat."""
        return self._voices.setdefault(chat, VoiceMemory(self._profiles, chat.replace(":", " "), self._journal))

    def _hear(self, utterance: Utterance, deliver: Sequence[str]) -> StoredTurn:
        if not deliver:
            return self._assistant.hear(utterance, deliver)
        voice = self.voice(deliver[0])
        known = voice.confusions(utterance.text, utterance.language) if utterance.spoken else ()
        turn = self._assistant.hear(utterance.model_copy(update={"confusions": known}), deliver)
        voice.notice(turn)
        return turn

    async def state(self, conversation: str) -> ConversationState:
        return await self.do(self._assistant.state, conversation)

    async def expectation(self, conversation: str) -> Expectation:
        return await self.do(self._assistant.expectation, conversation)

    async def read(self, utterance: Utterance, expected: Expectation) -> Reading:
        """What words would be taken to mean; nothing is kept of them."""
        return await self.do(understand, utterance, expected, self._assistant.vocabulary(expected.language))

    async def language(self, conversation: str) -> Language:
        return (await self.state(conversation)).language

    async def prompt(self, conversation: str) -> Reply:
        return await self.do(self._assistant.prompt, conversation, datetime.now(UTC))

    async def turn(self, utterance_id: str) -> StoredTurn | None:
        return await self.do(self._journal.turn, utterance_id)

    async def seq(self, conversation: str) -> int:
        """The number of the newest turn, 0 before the first."""
        return await self.do(self._journal.last, conversation)

    async def after(self, conversation: str, seq: int) -> tuple[StoredTurn, ...]:
        return await self.do(self._journal.turns, conversation, seq)

    async def forget(self, conversation: str) -> None:
        await self.do(self._assistant.forget, conversation)

    async def ready(self, conversation: str) -> tuple[Language, str]:
        """The language of a conversation, and the grammar of what may be said in it now."""
        return await self.do(self._ready, conversation)

    def _ready(self, conversation: str) -> tuple[Language, str]:
        expected = self._assistant.expectation(conversation)
        return expected.language, grammar(expected, self._assistant.vocabulary(expected.language))

    def close(self) -> None:
        self._thread.shutdown(wait=True, cancel_futures=True)
