"""Replies out of the outbox, in order in each chat, chats side by side, tried until they arrive.

A round is one visit to the record: what arrived is marked, what is due is taken and made ready.
"""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import httpx
from telegram.error import BadRequest, ChatMigrated, Forbidden, NetworkError

from bot.telegram.background import BackgroundTasks
from bot.telegram.bell import follow_up
from bot.telegram.context import ChatContext
from bot.telegram.edits.keyboards import Keyboards
from bot.telegram.letter import Letter, LetterDesk, Readied, is_voice
from bot.telegram.sending import Sender
from bot.telegram.updates.backoff import asked, wait
from bot.telegram.updates.intake import Reachability
from bot.telegram.updates.update import PREFIX
from bot.telegram.worker import Full
from engine.errors import UnreadableFact, WorldError
from engine.queues.lease import LEASE
from engine.queues.outbox import PERHAPS, Arrival, Outgoing, Setback, Waiting
from engine.queues.outbox_message import ShownMessage, TextMessage, WithdrawalMessage
from engine.reminders.schedule import Schedule

AT_ONCE = 50
IDLE_S, AWAY_S = 5.0, 0.25
"""So often the outbox is looked at where nobody says that something waits: on a file, on a server."""
LOOK_S = 5.0
"""So often it is looked whom other programs on the record found lost."""
READY_AT_ONCE = 12
"""So many messages are made ready in a round: the first of many leaves before the last is looked up."""
GATHERED_S = 0.01
"""What arrives within so long is marked together: each visit to the record costs the turns that wait for it."""
TRIES, ROOM = 10, timedelta(seconds=2)
"""A call is said aloud as soon as there is room for it among those that are being said, or not at all."""
log = logging.getLogger("rowhand.telegram")


@dataclass(frozen=True)
class _Round:
    """What is to be sent now, when the next is due where nothing is, and which chats are lost where that was asked."""

    due: tuple[tuple[Waiting, Readied], ...]
    next_due: datetime | None
    lost: frozenset[str] | None


class MessageDelivery(BackgroundTasks):
    """Sends what is due for ever, as the worker ``me``; several may send from one record."""

    def __init__(self, chat: ChatContext, sender: Sender, reach: Reachability, keyboards: Keyboards, me: str) -> None:
        super().__init__()
        self._sender, self._outbox, self._engine, self._reach = sender, chat.outbox, chat.engine, reach
        self._crew, self._keyboards, self._me = chat.crew, keyboards, me
        database = chat.outbox.database
        self._desk = LetterDesk(chat.outbox, Schedule(database), chat.engine, reach, chat.crew, chat.texts)
        self._idle_s = AWAY_S if database.is_server else IDLE_S
        self._looked = time.monotonic()
        self._wake, self.caught_up = asyncio.Event(), asyncio.Event()
        self._keys: set[str] = set()
        self._outcomes: list[Arrival | Setback] = []

    def wake(self) -> None:
        """Something new may wait."""
        self._wake.set()

    async def run(self) -> None:
        failures = 0
        self._wake.set()
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
        room, looks = min(AT_ONCE - len(self._tasks), READY_AT_ONCE), time.monotonic() - self._looked > LOOK_S
        outcomes, self._outcomes = self._outcomes, []
        try:
            visit = self._engine.at_once if outcomes else self._engine.first
            found = await visit(self._visit, outcomes, room, looks)
        except (WorldError, asyncio.CancelledError):
            self._outcomes = outcomes + self._outcomes
            raise
        if found.lost is not None:
            self._reach.seen(found.lost)
            self._looked = time.monotonic()
        for one, ready in found.due:
            self.begin(self._settle(one, ready)).add_done_callback(self._landed)
        if not found.due:
            if not self.is_busy:
                self.caught_up.set()
            await self._pause(found.next_due)

    def _visit(self, outcomes: Sequence[Arrival | Setback], room: int, looks: bool) -> _Round:
        """On the thread of the record: mark how sending went, take what is due and make it ready."""
        lost = self._reach.look_now() if looks else None
        if outcomes:
            self._outbox.settle(outcomes)
        found = self._outbox.take(self._me, datetime.now(UTC), LEASE, room, PREFIX) if room > 0 else ()
        ready = [(one, self._ready(one)) for one in found if one.outgoing.key not in self._keys]
        settled = [letter for _, letter in ready if isinstance(letter, Arrival | Setback)]
        if settled:
            self._outbox.settle(settled)
        due = tuple((one, letter) for one, letter in ready if not isinstance(letter, Arrival | Setback))
        if settled and not due:
            return _Round((), datetime.now(UTC), lost)
        return _Round(due, None if due else self._outbox.next_due(PREFIX), lost)

    def _ready(self, one: Waiting) -> Readied:
        """A message made ready; one that cannot be holds up its own chat alone."""
        try:
            return self._desk.ready_now(one)
        except Exception as error:
            if isinstance(error, WorldError) and not isinstance(error, UnreadableFact):
                raise
            log.warning("letter failed error=%s", type(error).__name__)
            return _again(one, error)

    async def _pause(self, due: datetime | None) -> None:
        seconds = min((due - datetime.now(UTC)).total_seconds(), self._idle_s) if due else self._idle_s
        try:
            async with asyncio.timeout(max(seconds, 0.01) if not self.is_busy else self._idle_s):
                await self._wake.wait()
        except TimeoutError:
            return

    def _landed(self, _task: asyncio.Task[None]) -> None:
        asyncio.get_running_loop().call_later(GATHERED_S, self._wake.set)

    async def _settle(self, one: Waiting, ready: Readied) -> None:
        """Send a message; how that went is noted in the next round, at once where nothing of it is to be kept."""
        key = one.outgoing.key
        self._keys.add(key)
        try:
            outcome = await self._outcome(one, ready)
            if isinstance(outcome, Arrival) and one.outgoing.message.forget:
                await self._engine.first(self._outbox.drop, key)
            else:
                self._outcomes.append(outcome)
        except WorldError as trouble:
            log.warning("outbox failed error=%s", type(trouble).__name__)
            self._outcomes.append(Setback(key, datetime.now(UTC) + ROOM, type(trouble).__name__))
        finally:
            self._keys.discard(key)

    async def _outcome(self, waiting: Waiting, ready: Readied) -> Arrival | Setback:
        """Send a message that is still wanted; how it arrived, or why it did not."""
        one = waiting.outgoing
        try:
            match ready:
                case _ if self._reach.is_lost(one.conversation):
                    raise Forbidden("lost before")
                case WithdrawalMessage(keys=keys):
                    return await self._withdraw(one, keys)
                case Letter():
                    return await self._deliver(one, ready)
                case _:
                    return Setback(one.key, datetime.now(UTC), "found again")
        except Exception as error:
            return await self._setback(waiting, error)

    async def _deliver(self, one: Outgoing, ready: Letter) -> Arrival:
        posted = await self._sender.send(one.conversation, ready.shown, ready.text, ready.seq, ready.silent)
        self._note(one.conversation, ready.shown, ready.seq, posted)
        return Arrival(one.key, posted, follow_up(one, datetime.now(UTC)))

    def _note(self, chat: str, shown: ShownMessage, seq: int, posted: int | None) -> None:
        """What is asked now has buttons, what was asked before has none."""
        if not isinstance(shown, TextMessage) or not (shown.buttons or shown.seq):
            return
        self._keyboards.answered(chat, seq or shown.seq or 0)
        if shown.buttons and posted is not None:
            self._keyboards.shown(chat, posted, seq)

    async def _withdraw(self, one: Outgoing, keys: Sequence[str]) -> Arrival:
        for message in await self._engine.first(self._outbox.posted, one.conversation, keys):
            await self._sender.withdraw(one.conversation, message)
        return Arrival(one.key)

    async def _setback(self, waiting: Waiting, error: Exception) -> Setback:
        log.warning("send failed error=%s", type(error).__name__)
        one = waiting.outgoing
        match error:
            case Forbidden():
                if not self._reach.is_lost(one.conversation):
                    await self._reach.lose(one.conversation)
                    await self._crew.tell_lost(one.conversation, one.key)
                return Setback(one.key, None, "gone")
            case Full() if waiting.attempts < TRIES:
                return Setback(one.key, datetime.now(UTC) + ROOM, "full")
            case _ if is_voice(one):
                return Setback(one.key, None, type(error).__name__)
            case BadRequest() | ChatMigrated():
                return Setback(one.key, None, "refused")
            case _:
                return _again(waiting, error)

    async def stop(self) -> None:
        """Note what arrived and leave the rest for the next start."""
        await super().stop()
        try:
            await self._engine.first(self._outbox.settle, tuple(self._outcomes))
        except WorldError as error:
            log.warning("outbox failed error=%s", type(error).__name__)


def _again(waiting: Waiting, error: Exception) -> Setback:
    """It is tried once more, later each time; a voice note is not."""
    if is_voice(waiting.outgoing):
        return Setback(waiting.outgoing.key, None, type(error).__name__)
    seconds = asked(error) or wait(waiting.attempts + 1)
    perhaps = _perhaps_sent(error) or waiting.why == PERHAPS
    moment = datetime.now(UTC) + timedelta(seconds=seconds)
    return Setback(waiting.outgoing.key, moment, PERHAPS if perhaps else type(error).__name__)


def _perhaps_sent(error: Exception) -> bool:
    """Whether the line broke when the request may have been through: the server could have done the work."""
    if not isinstance(error, NetworkError):
        return False
    unsent = (httpx.ConnectError, httpx.ConnectTimeout, httpx.PoolTimeout)
    return isinstance(error.__cause__, httpx.HTTPError) and not isinstance(error.__cause__, unsent)
