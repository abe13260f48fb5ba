"""``rowhand bench crowd``: updates a second that the engine takes of many chats at once, beside bare commits.

There is no network: each chat sends a line as soon as its last one is answered. An update is kept in the inbox, heard,
answered into the outbox and done, as the chat does it, by one program and by several on one record, each with a share
of the chats. ``python -m tests.load_telegram burst`` measures the whole channel with a server that speaks its protocol.
"""

from __future__ import annotations

import asyncio
import multiprocessing
import tempfile
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from itertools import pairwise
from multiprocessing.synchronize import Barrier
from pathlib import Path
from typing import Annotated

import typer
from sqlalchemy import func, select

from bot.bench.bare_cost import bare_record
from bot.bench.figure import BareCost, Figure, percentile, sheet
from bot.record_thread import RecordThread, SharedCommits
from engine.assistant import Assistant
from engine.database import open_database
from engine.errors import DatabaseError
from engine.history.store import tables
from engine.messages import Utterance
from engine.queues.inbox import Inbox, Incoming

LINES = ("set up", "eight", "thirty inches", "zero to thirty by one", "no", "skip", "skip", "two pounds an acre",
         "ten pounds an acre", "five pounds an acre")  # fmt: skip
COMMITS, PATIENCE_S = 200, 120
METHOD = "{chats} chats at once, {each} lines each, {how}; first line to last answer, the programs together"
WAITED = "from a line to its answer on the disk, all chats waiting at once"
BARE = "{count} bare commits of each program at once on the same disk; before and after, the mean of both"


class Commits(StrEnum):
    """Whether what waits at the same time shares a commit, as in the chat, or each update is kept by itself."""

    SHARED = "shared"
    OWN = "own"


@dataclass(frozen=True)
class Share:
    """The chats of one program: those from ``first`` on."""

    place: Path
    first: int
    chats: int
    each: int
    commits: Commits


@dataclass(frozen=True)
class Took:
    """When a program began and ended, by the clock that all share, and the seconds that each update waited."""

    begun: float
    ended: float
    waited: tuple[float, ...] = ()


def crowd(
    chats: Annotated[int, typer.Option(min=1, help="chats at once")] = 200,
    each: Annotated[int, typer.Option(min=1, max=len(LINES), help="lines of each chat")] = 5,
    programs: Annotated[int, typer.Option(min=1, help="most programs on one record")] = 2,
    folder: Annotated[Path | None, typer.Option(help="whose disk is measured", exists=True, file_okay=False)] = None,
    as_json: Annotated[bool, typer.Option("--json", help="one object a line")] = False,
) -> None:
    """Measure how many updates a second the engine takes of many chats at once, beside bare commits."""
    with tempfile.TemporaryDirectory(dir=folder) as name:
        figures = [
            figure
            for count in range(1, min(programs, chats) + 1)
            for figure in of_programs(Path(name), chats, each, count, list(Commits) if count == 1 else [Commits.SHARED])
        ]
        sheet("crowd", Path(name), figures).print(as_json)


def of_programs(place: Path, chats: int, each: int, programs: int, how: Sequence[Commits]) -> Iterator[Figure]:
    called = f"{programs} program{'s' if programs > 1 else ''}"
    with _pool(programs) as pool:
        before = _commits_a_second(pool, place, programs)
        runs = {one: _run(pool, place, chats, each, programs, one) for one in how}
        bare = BareCost("commits", (before + _commits_a_second(pool, place, programs)) / 2)
    yield Figure(f"bare commits, {called}", bare.value, "/s", BARE.format(count=COMMITS), bare)
    for one, run in runs.items():
        method = METHOD.format(chats=chats, each=each, how=f"{one} commits")
        yield Figure(f"updates, {called}, {one}", _rate(run, chats * each), "/s", method, bare)
        waited = [seconds for took in run for seconds in took.waited]
        for percent in (50, 95):
            name = f"waited, {called}, {one}, p{percent}"
            yield Figure(name, percentile(waited, percent), "s", WAITED)


def _rate(run: Sequence[Took], count: int) -> float:
    return count / (max(one.ended for one in run) - min(one.begun for one in run))


def _run(pool: Executor, place: Path, chats: int, each: int, programs: int, commits: Commits) -> list[Took]:
    """So many chats on a record of their own, shared out; DatabaseError where a line was not answered once."""
    record = place / f"{programs}-{commits}.db"
    open_database(record).close()
    bounds = [chats * number // programs for number in range(programs + 1)]
    shares = [Share(record, low, high - low, each, commits) for low, high in pairwise(bounds)]
    found = list(pool.map(_take, shares))
    check(record, chats * each)
    return found


def check(record: Path, wanted: int) -> None:
    """That so many lines were kept, answered and done, each once; DatabaseError otherwise."""
    database = open_database(record)
    said = select(func.count()).where(tables.turn.c.conversation.startswith(_CHAT))
    answered = select(func.count()).where(tables.outbox.c.conversation.startswith(_CHAT))
    with database.read() as connection:
        counts = [connection.execute(one).scalar_one() for one in (said, answered)]
        open_ones = len(Inbox(database).waiting())
    database.close()
    if counts != [wanted, wanted] or open_ones:
        raise DatabaseError(f"of {wanted} lines {counts[0]} were kept, {counts[1]} answered, {open_ones} are open")


def _commits_a_second(pool: Executor, place: Path, programs: int) -> float:
    return _rate(list(pool.map(_commit, [place] * programs)), COMMITS * programs)


# ---- what each program does

_CHAT, _WARM = "chat", "warm"
_begin: Barrier | None = None


def _pool(programs: int) -> ProcessPoolExecutor:
    context = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(programs, context, _ready, (context.Barrier(programs),))


def _ready(begin: Barrier) -> None:
    global _begin  # noqa: PLW0603
    _begin = begin


def _together() -> float:
    """When all programs are there."""
    assert _begin is not None
    _begin.wait(PATIENCE_S)
    return time.monotonic()


def _commit(place: Path) -> Took:
    with bare_record(place) as bare:
        begun = _together()
        for _ in range(COMMITS):
            bare.commit()
        return Took(begun, time.monotonic())


def _take(share: Share) -> Took:
    """Every line of these chats, each chat as soon as it is answered."""
    desk = CrowdDesk(share)
    try:
        desk.hear(desk.line(f"{_WARM}{share.first}", 0), "help")
        begun = _together()
        waited = asyncio.run(desk.chats())
        return Took(begun, time.monotonic(), tuple(waited))
    finally:
        desk.close()


class CrowdDesk:
    """One program on the record."""

    def __init__(self, share: Share) -> None:
        self._share, self._database = share, open_database(share.place)
        self._inbox, self._assistant = Inbox(self._database), Assistant(self._database)
        shared = SharedCommits(self._database, self._assistant.forget_all)
        self._thread = RecordThread(shared if share.commits is Commits.SHARED else None)

    def close(self) -> None:
        self._thread.close()
        self._database.close()

    async def chats(self) -> list[float]:
        """The seconds that each update waited for its answer."""
        first = self._share.first
        waits = await asyncio.gather(*(self._chat(number) for number in range(first, first + self._share.chats)))
        return [seconds for one in waits for seconds in one]

    async def _chat(self, number: int) -> list[float]:
        waited = []
        for ordinal in range(self._share.each):
            begun, line = time.monotonic(), self.line(f"{_CHAT}{number}", number * len(LINES) + ordinal + 1)
            await self._thread.first(self._inbox.put, [line])
            await self._thread.do(self.hear, line, LINES[ordinal])
            waited.append(time.monotonic() - begun)
        return waited

    def line(self, chat: str, number: int) -> Incoming:
        return Incoming(number, chat, number, {}, datetime.now(UTC))

    def hear(self, line: Incoming, text: str) -> None:
        """One update heard, answered and done."""
        name = f"{line.conversation}:{line.update_id}"
        chat, at = line.conversation, line.received_at
        said = Utterance(id=name, conversation=chat, text=text, language="en", said_at=at)
        self._assistant.hear(said, [chat])
        self._inbox.done(line.update_id, datetime.now(UTC))
