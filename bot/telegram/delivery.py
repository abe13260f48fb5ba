"""Replies out of the outbox, in order in each chat, chats side by side, tried until they arrive."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import ParamSpec, TypeVar, assert_never

import httpx
from telegram.error import BadRequest, ChatMigrated, Forbidden, NetworkError

from bot.telegram.access import Crew
from bot.telegram.bell import follow_up
from bot.telegram.edits.keyboards import Keyboards
from bot.telegram.sending import Sender
from bot.telegram.texts import ChatKey, ChatTexts
from bot.telegram.updates.backoff import asked, wait
from bot.telegram.updates.intake import Reach
from bot.telegram.updates.update import PREFIX
from bot.telegram.worker import EngineWorker, Full
from engine.errors import WorldError
from engine.queues.outbox import ANSWERED, PERHAPS, Arrival, Outbox, Outgoing, Setback
from engine.queues.outbox_message import (
    PagesMessage,
    PictureMessage,
    ReminderMessage,
    ShownMessage,
    TableMessage,
    TextMessage,
    VoiceNoteMessage,
    WithdrawalMessage,
    words_of,
)
from engine.reminders.schedule import Schedule

P = ParamSpec("P")
T = TypeVar("T")
WORKER = "telegram"
LEASE = timedelta(seconds=120)
AT_ONCE = 50
IDLE_S = 5.0
LOOKED_UP = 4
"""So many messages are made ready at a time: the first of many leaves before the last is looked up."""
TRIES, ROOM = 10, timedelta(seconds=2)
"""A call is said aloud as soon as there is room for it among those that are being said, or not at all."""
RING, REPLY = "ring/", "reply:"
log = logging.getLogger("rowhand.telegram")


@dataclass(frozen=True)
class _Letter:
    """The words of a message as they stand now, the turn that its buttons answer, and whether it makes no sound."""

    text: str
    seq: int
    silent: bool


class MessageDelivery:
    """Sends what is due for ever. There is one bot to a token, so that leases of an earlier run are dead ones."""

    def __init__(
        self,
        sender: Sender,
        outbox: Outbox,
        mind: EngineWorker,
        reach: Reach,
        crew: Crew,
        keyboards: Keyboards,
        texts: ChatTexts,
    ) -> None:
        self._sender, self._outbox, self._mind = sender, outbox, mind
        self._reach, self._crew, self._texts = reach, crew, texts
        self._keyboards = keyboards
        self._schedule = Schedule(outbox.database)
        self._wake = asyncio.Event()
        self._flying: set[asyncio.Task[None]] = set()
        self._outcomes: list[Arrival | Setback] = []
        self._marking = asyncio.Lock()
        self._desk = asyncio.Semaphore(LOOKED_UP)
        self._clerk = ThreadPoolExecutor(1, thread_name_prefix="clerk")

    def wake(self) -> None:
        """Something new may wait."""
        self._wake.set()

    async def run(self) -> None:
        failures = 0
        self._wake.set()
        await asyncio.to_thread(self._outbox.release, WORKER)
        while True:
            try:
                await self._round()
                failures = 0
            except WorldError as error:
                failures += 1
                log.warning("outbox failed error=%s", type(error).__name__)
                await asyncio.sleep(wait(failures))

    async def _round(self) -> None:
        """Settle what arrived, start what is due, and wait for more."""
        self._wake.clear()
        await self._mark()
        room, now = AT_ONCE - len(self._flying), datetime.now(UTC)
        due = await self._write(self._outbox.claim, WORKER, now, LEASE, room, PREFIX) if room else ()
        for one in due:
            task = asyncio.create_task(self._settle(one))
            self._flying.add(task)
            task.add_done_callback(self._landed)
        if not due:
            await self._pause()

    async def _mark(self) -> None:
        """Note how sending went, all that is known so far at once."""
        async with self._marking:
            outcomes, self._outcomes = self._outcomes, []
            if not outcomes:
                return
            try:
                await self._write(self._outbox.settle, outcomes)
            except (WorldError, asyncio.CancelledError):
                self._outcomes = outcomes + self._outcomes
                raise

    async def _write(self, work: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
        """On a thread of its own, so that a mark never waits behind what the messages in flight still look up."""
        return await asyncio.get_running_loop().run_in_executor(self._clerk, lambda: work(*given, **named))

    async def _pause(self) -> None:
        due = await asyncio.to_thread(self._outbox.next_due, PREFIX)
        seconds = min((due - datetime.now(UTC)).total_seconds(), IDLE_S) if due else IDLE_S
        try:
            await asyncio.wait_for(self._wake.wait(), max(seconds, 0.01) if not self._flying else IDLE_S)
        except TimeoutError:
            return

    def _landed(self, task: asyncio.Task[None]) -> None:
        self._flying.discard(task)
        self._wake.set()

    async def _settle(self, one: Outgoing) -> None:
        """Send a message and note at once how that went; a note that cannot be written is tried again."""
        try:
            outcome = await self._outcome(one)
            if isinstance(outcome, Arrival) and one.message.forget:
                await self._write(self._outbox.drop, one.key)
            else:
                self._outcomes.append(outcome)
                await self._mark()
        except WorldError as trouble:
            log.warning("outbox failed error=%s", type(trouble).__name__)

    async def _outcome(self, one: Outgoing) -> Arrival | Setback:
        """Send a message that is still wanted; how it arrived, or why it did not."""
        try:
            if self._reach.is_lost(one.conversation):
                raise Forbidden("lost before")
            match one.message:
                case WithdrawalMessage(keys=keys):
                    return await self._withdraw(one, keys)
                case shown:
                    return await self._deliver(one, shown)
        except Exception as error:
            return await self._setback(one, error)

    async def _deliver(self, one: Outgoing, shown: ShownMessage) -> Arrival | Setback:
        async with self._desk:
            ready = await self._ready(one)
        if not isinstance(ready, _Letter):
            return ready
        shown = await self._with_ways(one, shown)
        posted = await self._sender.send(one.conversation, shown, ready.text, ready.seq, ready.silent)
        self._note(one.conversation, shown, ready.seq, posted)
        return Arrival(one.key, posted, follow_up(one, datetime.now(UTC)))

    async def _with_ways(self, one: Outgoing, shown: ShownMessage) -> ShownMessage:
        """A reply after which nothing is open has the ways on as buttons, unless more was said meanwhile."""
        if not isinstance(shown, TextMessage) or shown.buttons or not one.key.startswith(REPLY):
            return shown
        talk = await self._crew.talk(one.conversation)
        newest = await self._mind.seq(talk) == shown.seq
        return shown.model_copy(update={"buttons": await self._mind.ways(talk)}) if newest else shown

    def _note(self, chat: str, shown: ShownMessage, seq: int, posted: int | None) -> None:
        """What is asked now has buttons, what was asked before has none."""
        if not isinstance(shown, TextMessage) or not (shown.buttons or shown.seq):
            return
        self._keyboards.answered(chat, seq or shown.seq or 0)
        if shown.buttons and posted is not None:
            self._keyboards.shown(chat, posted, seq)

    async def _withdraw(self, one: Outgoing, keys: Sequence[str]) -> Arrival:
        for message in await asyncio.to_thread(self._outbox.posted, one.conversation, keys):
            await self._sender.withdraw(one.conversation, message)
        return Arrival(one.key)

    async def _ready(self, one: Outgoing) -> _Letter | Arrival | Setback:
        """A message as it is sent now; an outcome where it is not sent at all, as nobody wants it or others get it."""
        if one.key.startswith(RING) and not await asyncio.to_thread(self._schedule.asks, one.key):
            return Setback(one.key, None, ANSWERED)
        if _is_voice(one) and await self._overtaken(one):
            return Arrival(one.key)
        audience = await self._crew.audience(one)
        if audience != (one.conversation,):
            await self._mind.do(self._outbox.pass_on, one, audience)
            return Arrival(one.key)
        return _Letter(await self._text(one), await self._seq(one), await self._crew.hushed(one))

    async def _overtaken(self, one: Outgoing) -> bool:
        """Whether a newer voice note waits behind this one: only what was said last is worth hearing."""
        waiting = await asyncio.to_thread(self._outbox.pending, one.conversation)
        return any(_is_voice(other.outgoing) and other.outgoing.key != one.key for other in waiting)

    async def _text(self, one: Outgoing) -> str:
        """The words; those that perhaps arrived before say so."""
        text = words_of(one.message)
        waiting = await asyncio.to_thread(self._outbox.find, one.key)
        if waiting is None or waiting.why != PERHAPS:
            return text
        return f"{self._texts.say(ChatKey.PERHAPS_AGAIN, await self._mind.language(one.conversation))} {text}"

    async def _seq(self, one: Outgoing) -> int:
        """The turn that the buttons of a message answer."""
        match one.message:
            case TextMessage(seq=int(seq)) | ReminderMessage(seq=int(seq)):
                return seq
            case TextMessage(buttons=()) | ReminderMessage(buttons=()):
                return 0
            case TextMessage() | ReminderMessage():
                return await self._seq_of(one)
            case VoiceNoteMessage() | WithdrawalMessage() | PictureMessage() | PagesMessage() | TableMessage():
                return 0
            case other:
                assert_never(other)

    async def _seq_of(self, one: Outgoing) -> int:
        """The turn that a message answers, by its key; the last one where it answers none."""
        turn = await self._mind.turn(one.key.removeprefix("reply:"))
        return turn.seq if turn else await self._mind.seq(one.conversation)

    async def _setback(self, one: Outgoing, error: Exception) -> Setback:
        log.warning("send failed error=%s", type(error).__name__)
        match error:
            case Forbidden():
                if not self._reach.is_lost(one.conversation):
                    await self._reach.lose(one.conversation)
                    await self._crew.tell_lost(one.conversation, one.key)
                return Setback(one.key, None, "gone")
            case Full() if await self._attempts(one) < TRIES:
                return Setback(one.key, datetime.now(UTC) + ROOM, "full")
            case _ if _is_voice(one):
                return Setback(one.key, None, type(error).__name__)
            case BadRequest() | ChatMigrated():
                return Setback(one.key, None, "refused")
            case _:
                return await self._again(one, error)

    async def _attempts(self, one: Outgoing) -> int:
        waiting = await asyncio.to_thread(self._outbox.find, one.key)
        return waiting.attempts if waiting else 0

    async def _again(self, one: Outgoing, error: Exception) -> Setback:
        waiting = await asyncio.to_thread(self._outbox.find, one.key)
        attempts = waiting.attempts if waiting else 0
        seconds = asked(error) or wait(attempts + 1)
        perhaps = _perhaps_sent(error) or (waiting is not None and waiting.why == PERHAPS)
        moment = datetime.now(UTC) + timedelta(seconds=seconds)
        return Setback(one.key, moment, PERHAPS if perhaps else type(error).__name__)

    async def stop(self) -> None:
        """Note what arrived and leave the rest for the next start."""
        for task in self._flying:
            task.cancel()
        await asyncio.gather(*self._flying, return_exceptions=True)
        try:
            await self._mark()
        finally:
            self._clerk.shutdown(wait=True)


def _is_voice(one: Outgoing) -> bool:
    """Whether a message is a voice note, which may be lost but never holds up what comes after it."""
    return isinstance(one.message, VoiceNoteMessage)


def _perhaps_sent(error: Exception) -> bool:
    """Whether the line broke when the request may have been through: the server could have done the work."""
    if not isinstance(error, NetworkError):
        return False
    unsent = (httpx.ConnectError, httpx.ConnectTimeout, httpx.PoolTimeout)
    return isinstance(error.__cause__, httpx.HTTPError) and not isinstance(error.__cause__, unsent)
