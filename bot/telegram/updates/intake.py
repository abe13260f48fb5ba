"""Updates on their way in: each on the disk before it is confirmed, each chat strictly in order, all side by side, and
which chats can be written to."""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, ParamSpec, Protocol, TypeVar

from bot.telegram.background import BackgroundTasks
from bot.telegram.updates.update import incoming
from engine.errors import WorldError
from engine.queues.inbox import Gone, Inbox, Incoming
from engine.queues.lease import LEASE

HOLD_S = 0.5
"""How long a button press waits for what was sent before it: the server brings presses on a way of their own."""
AT_ONCE = 100
QUICK_AT_ONCE, SLOW_AT_ONCE = 16, 50
LOOKS_S, LOOKS_AWAY_S = 5.0, 0.25
"""So often the inbox is looked at where nobody says that something came: on a file, on a server."""
P = ParamSpec("P")
T = TypeVar("T")
log = logging.getLogger("rowhand.telegram")


Store = Callable[[Sequence[Incoming]], Awaitable[tuple[Incoming, ...]]]
"""Puts updates on the disk and gives those that are new."""


@dataclass(frozen=True)
class _Brought:
    one: Incoming
    kept: asyncio.Future[None]


class Intake:
    """Keeps what is brought, in one transaction at a time."""

    def __init__(self, store: Store) -> None:
        self._store = store
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
            fresh = await self._store(ones)
        except Exception as error:
            log.warning("inbox failed updates=%d error=%s", len(ones), type(error).__name__)
            return error
        log.info("received updates=%d new=%d", len(ones), len(fresh))
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


class OnRecord(Protocol):
    """Does work on the record, before all that is not pressing; it is on the disk then."""

    def __call__(self, work: Callable[P, T], *given: P.args, **named: P.kwargs) -> Awaitable[T]: ...


@dataclass
class _Line:
    """Updates of one kind: how many are at work at once, and whose."""

    slow: bool
    at_once: int
    busy: set[str] = field(default_factory=set)

    @property
    def room(self) -> int:
        return self.at_once - len(self.busy)


@dataclass(frozen=True)
class _Change:
    """The chats that were let go of, and what was taken in hand, each for its line."""

    over: tuple[str, ...]
    found: tuple[tuple[_Line, Incoming], ...]


class Chats(BackgroundTasks):
    """Takes updates out of the inbox: those of a chat one after another, many chats side by side.

    Only so many are at work that the answers of the first leave while the last still wait, and a chat that has much to
    say has one place of these at most. What takes long has places of its own. The programs on one record share the
    work; what an earlier run left undone comes first. Nothing is begun before it is ``ready``, and what was begun and
    is dropped at ``stop`` is in the inbox and comes again.
    """

    def __init__(
        self,
        work: Callable[[Incoming], Awaitable[None]],
        inbox: Inbox,
        record: OnRecord,
        worker: str,
        quick: bool = True,
        slow: bool = True,
    ) -> None:
        super().__init__()
        self._work, self._inbox, self._record, self._worker = work, inbox, record, worker
        self._lines = [_Line(False, QUICK_AT_ONCE)] * quick + [_Line(True, SLOW_AT_ONCE)] * slow
        self._over: set[str] = set()
        self._wake, self._taking, self.ready = asyncio.Event(), asyncio.Lock(), asyncio.Event()

    async def keep(self, updates: Sequence[Incoming]) -> tuple[Incoming, ...]:
        """Put updates on the disk and begin with those that can be begun; gives those that are new."""
        async with self._taking:
            fresh, change = await self._record(self._keep, updates)
            self._begin(change)
        return fresh

    async def run(self) -> None:
        """Work for ever; what another program put into the inbox is found by looking."""
        looks_s = LOOKS_AWAY_S if self._inbox.database.is_server else LOOKS_S
        while True:
            self._wake.clear()
            try:
                async with self._taking:
                    self._begin(await self._record(self._take))
            except WorldError as error:
                log.warning("inbox failed error=%s", type(error).__name__)
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(looks_s):
                    await self._wake.wait()

    def _keep(self, updates: Sequence[Incoming]) -> tuple[tuple[Incoming, ...], _Change]:
        return self._inbox.put(updates), self._take()

    def _take(self) -> _Change:
        """On the thread of the record: let go of chats that are done with, take others in hand."""
        now = datetime.now(UTC)
        if over := tuple(sorted(self._over)):
            self._inbox.let_go(self._worker, over)
        found = tuple(
            (line, one)
            for line in self._lines
            for one in self._inbox.take(self._worker, now, LEASE, line.slow, line.room)
        )
        return _Change(over, found)

    def _begin(self, change: _Change) -> None:
        """It is on the disk: what was let go is forgotten, what was taken is begun with."""
        self._over.difference_update(change.over)
        for line, one in change.found:
            if any(one.conversation in other.busy for other in self._lines):
                continue
            line.busy.add(one.conversation)
            self.begin(self._run(line, one))

    async def _run(self, line: _Line, one: Incoming) -> None:
        try:
            await self.ready.wait()
            await self._work(one)
        finally:
            line.busy.discard(one.conversation)
            self._over.add(one.conversation)
            self._wake.set()


class Reachability:
    """Chats that blocked the bot are lost until something comes from them again."""

    def __init__(self, gone: Gone, record: OnRecord) -> None:
        self._gone, self._record = gone, record
        self._lost = set(gone.all())

    def look_now(self) -> frozenset[str]:
        """What all programs on this record found out; on the thread of the record."""
        return self._gone.all()

    def seen(self, lost: frozenset[str]) -> None:
        """Believe what a look found, at once when it is over."""
        self._lost = set(lost)

    def is_lost(self, conversation: str) -> bool:
        return conversation in self._lost

    async def lose(self, conversation: str) -> None:
        self._lost.add(conversation)
        await self._record(self._gone.add, conversation, datetime.now(UTC))
        self._lost.add(conversation)  # a look meanwhile did not see it

    async def regain(self, conversation: str) -> None:
        if conversation in self._lost:
            await self._record(self._gone.remove, conversation)
            self._lost.discard(conversation)
