"""Work beside the loop of a channel: everything on the record runs on one thread.

A commit waits for the disk, whether it holds one change or fifty. So pieces of work that wait at the same time may be
done one after another in one transaction, and whoever asked for them hears of it when that is on the disk. What a piece
was changing when it raised is undone alone; where the database fails, nothing of the batch is kept, and its pieces are
done again one by one, so that only the one that cannot be done hears of it. What has to leave goes before what came in.
"""

from __future__ import annotations

import asyncio
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from typing import Any, ParamSpec, TypeVar

from engine.database import Database

MOST = 64
LONGEST_S = 0.05
"""A batch takes nothing more after so long: who waits for its first piece waits for all of it."""
REST_S = 0.003
"""Between two batches on a file it is free for so long, once in each such while, or another program that writes into it
would wait for ever."""
P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True)
class SharedCommits:
    """Pieces of work that wait share the commits of ``database``; ``undone`` is called when some were not kept."""

    database: Database
    undone: Callable[[], None]

    @property
    def most(self) -> int:
        """On a server, whose writers lock each other out, each piece is kept by itself."""
        return 1 if self.database.is_server else MOST

    @property
    def rests(self) -> bool:
        """Whether other programs wait for a batch to end, and see that only by looking again and again."""
        return not self.database.is_server


@dataclass(eq=False)
class _Piece:
    """A piece of work and what came of it: a ``value`` or an ``error``; one that is kept ``at_once`` ends
    its transaction, one that is ``alone`` shares none."""

    work: Callable[[], Any]
    wanted: asyncio.Future[Any]
    loop: asyncio.AbstractEventLoop
    at_once: bool = False
    alone: bool = False
    value: Any = None
    error: Exception | None = None

    def run(self) -> None:
        self.value = self.error = None
        try:
            self.value = self.work()
        except Exception as error:
            self.error = error

    def tell(self) -> None:
        if self.wanted.done():
            return
        if self.error is None:
            self.wanted.set_result(self.value)
        else:
            self.wanted.set_exception(self.error)


@dataclass(eq=False)
class RecordThread:
    """The one thread on which the record is used; without ``shared`` each piece of work keeps its own changes."""

    shared: SharedCommits | None = None
    _ready: threading.Condition = field(default_factory=threading.Condition)
    _leaving: deque[_Piece] = field(default_factory=deque)
    _coming: deque[_Piece] = field(default_factory=deque)
    _ends: bool = False
    _thread: threading.Thread | None = None

    async def do(self, work: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
        """Any short work on the record, in turn with all else; what it changed is kept when this returns."""
        return await self._add(self._coming, lambda: work(*given, **named))

    async def first(self, work: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
        """The same before all that is not: to keep what comes, and for what has to leave."""
        return await self._add(self._leaving, lambda: work(*given, **named))

    async def at_once(self, work: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
        """The same, and nothing else is begun before it is on the disk: a kill until then would repeat it."""
        return await self._add(self._leaving, lambda: work(*given, **named), at_once=True)

    async def alone(self, work: Callable[P, T], *given: P.args, **named: P.kwargs) -> T:
        """As ``do``, in transactions of its own: for work that remembers what it did."""
        return await self._add(self._coming, lambda: work(*given, **named), alone=True)

    def _add(
        self, lane: deque[_Piece], work: Callable[[], T], at_once: bool = False, alone: bool = False
    ) -> asyncio.Future[T]:
        loop = asyncio.get_running_loop()
        piece = _Piece(work, loop.create_future(), loop, at_once, alone)
        with self._ready:
            if self._ends:
                raise asyncio.CancelledError
            lane.append(piece)
            self._ready.notify()
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="record", daemon=True)
                self._thread.start()
        return piece.wanted

    def close(self) -> None:
        """Finish what was begun; what waits is left."""
        with self._ready:
            self._ends = True
            left = [*self._leaving, *self._coming]
            self._leaving.clear()
            self._coming.clear()
            self._ready.notify()
        for piece in left:
            if not piece.loop.is_closed():
                piece.loop.call_soon_threadsafe(piece.wanted.cancel)
        if self._thread is not None:
            self._thread.join()

    def _run(self) -> None:
        rested = time.monotonic()
        while (first := self._next(waits=True)) is not None:
            done = self._batch(first)
            for loop in {piece.loop for piece in done}:
                mine = [piece for piece in done if piece.loop is loop]
                if not loop.is_closed():
                    loop.call_soon_threadsafe(_tell, mine)
            if self.shared and self.shared.rests and self._shares() and time.monotonic() - rested > LONGEST_S:
                time.sleep(REST_S)
                rested = time.monotonic()

    def _next(self, waits: bool = False) -> _Piece | None:
        """The next piece that somebody still wants; None where there is none, or at the end."""
        while True:
            with self._ready:
                if waits:
                    self._ready.wait_for(lambda: self._ends or self._leaving or self._coming)
                lane = self._leaving or self._coming
                if not lane:
                    return None
                piece = lane.popleft()
            if not piece.wanted.cancelled():
                return piece

    def _batch(self, first: _Piece) -> list[_Piece]:
        """The piece, and those that wait beside it as long as a batch may take."""
        if first.alone or self.shared is None:
            first.run()
            return [first]
        done: list[_Piece] = []
        try:
            with self._together():
                for piece in self._pieces(first, self.shared.most):
                    done.append(piece)
                    piece.run()
        except Exception as error:
            if done:
                self._again(done, error)
            else:  # nothing could be begun
                done = [*self._pieces(first, self.shared.most)]
                for piece in done:
                    piece.error = error
        return done

    def _pieces(self, first: _Piece, most: int) -> Iterator[_Piece]:
        until = time.monotonic() + LONGEST_S
        yield (piece := first)
        for _ in range(most - 1):
            if piece.at_once or time.monotonic() > until or not self._shares() or (found := self._next()) is None:
                return
            yield (piece := found)

    def _shares(self) -> bool:
        """Whether the next piece may be done together with others."""
        with self._ready:
            lane = self._leaving or self._coming
            return bool(lane) and not lane[0].alone

    def _again(self, pieces: list[_Piece], error: Exception) -> None:
        """Nothing was kept: one by one, where there was more than one; else that one hears why."""
        self._undo()
        if len(pieces) == 1:
            pieces[0].error = pieces[0].error or error
            return
        for piece in pieces:
            try:
                with self._together():
                    piece.run()
            except Exception as alone:
                self._undo()
                piece.error = piece.error or alone

    def _together(self) -> AbstractContextManager[None]:
        return self.shared.database.together() if self.shared else nullcontext()

    def _undo(self) -> None:
        if self.shared:
            self.shared.undone()


def _tell(pieces: list[_Piece]) -> None:
    for piece in pieces:
        piece.tell()
