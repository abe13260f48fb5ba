"""Kills the whole chat channel around due times, again and again: ``python -m tests.reminders.kill_chat --rounds 200``.

Every reminder must have rung exactly once in the history and must have come to its chat at least once. With
``--programs 2`` two channels with the same token and the same record run against each other and are killed each at a
time of its own; on PostgreSQL: ``python -m tests.postgres --run tests.reminders.kill_chat --programs 2``.
"""

from __future__ import annotations

import argparse
import asyncio
import logging
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from multiprocessing.context import ForkServerProcess
from pathlib import Path
from random import Random

from sqlalchemy import func, select

from bot.settings import Settings
from engine.database import Database, open_database
from engine.history.store import tables
from tests.helpers.bell import look
from tests.helpers.chat_bot import settings_for
from tests.helpers.forked import chat_process
from tests.helpers.reminding import apply
from tests.helpers.telegram_server import TelegramServer

SPAN, START = 0.4, 0.45
EARLY = 0.7
"""The share of rounds whose reminders are there before the channel starts, which takes about ``START`` seconds."""
EACH = 8
MISSED = timedelta(minutes=10)
FIRST_CHAT = 1_000


@dataclass(frozen=True)
class Tally:
    """What came of all rounds, by conversation; ``spoken`` are voice notes, due in the conversations ``loud``.
    ``partly``: kills that came between two rings of their round, ``unsent``: those that came when something had rung
    and not left, ``mute``: those that came when a loud call had left and its voice note had not."""

    set: int
    rung: Counter[str]
    sent: Counter[str]
    loud: frozenset[str]
    spoken: Counter[str]
    killed: int
    partly: int
    unsent: int
    mute: int


async def kill_chat(folder: Path, rounds: int, seed: int, programs: int = 1) -> Tally:
    """Each round sets reminders due within a moment and kills the channels that ring them, each at a random time."""
    chance, place = Random(seed), folder / "record.db"
    hits, loud = [0, 0, 0, 0], set[str]()
    async with TelegramServer(judging=False) as server:
        settings = settings_for(server, place, again_minutes=60)
        database = open_database(settings.database)
        for number in range(rounds):
            before, logs = _rung(database).total(), [folder / f"{number}-{one}.log" for one in range(programs)]
            early = chance.random() < EARLY
            if early:
                loud.add(_set(server, database, number, chance, START))
            processes = await asyncio.gather(*(_started(settings, log) for log in logs))
            if not early:
                loud.add(_set(server, database, number, chance, 0.0))
            alive = await _kill(processes, [chance.uniform(0, SPAN) for _ in processes])
            new = _rung(database).total() - before
            hits[0] += alive
            hits[1] += 0 < new < EACH
            hits[2] += _rung(database).total() > len(_sent(server))
            hits[3] += any(_sent(server)[chat] and not _spoken(server)[chat] for chat in loud)
        total = rounds * EACH
        process = await asyncio.to_thread(chat_process, settings, folder / "last.log")
        await _until(lambda: len(_sent(server)) == total and len(_spoken(server)) == len(loud))
        process.kill()
        await asyncio.to_thread(process.join)
        rung, sent, spoken = _rung(database), _sent(server), _spoken(server)
        database.close()
    return Tally(total, rung, sent, frozenset(loud), spoken, *hits)


async def _kill(processes: Sequence[ForkServerProcess], pauses: Sequence[float]) -> int:
    """Kill each process after its pause, one after another; how many still lived."""
    alive, gone = 0, 0.0
    for pause, process in sorted(zip(pauses, processes, strict=True), key=lambda pair: pair[0]):
        await asyncio.sleep(pause - gone)
        gone, alive = pause, alive + process.is_alive()
        process.kill()
        await asyncio.to_thread(process.join)
    return alive


async def _started(settings: Settings, log: Path) -> ForkServerProcess:
    process = await asyncio.to_thread(chat_process, settings, log)
    await _until(lambda: log.exists() and "started" in log.read_text(encoding="utf-8"))
    return process


def _set(server: TelegramServer, database: Database, number: int, chance: Random, ahead: float) -> str:
    """Set the reminders of a round; the conversation of the one that was missed, so that its call is a loud one."""
    now = datetime.now(UTC)
    for one in range(EACH):
        chat = FIRST_CHAT + number * EACH + one
        server.user(chat).chat.open = True
        due = now + timedelta(seconds=ahead + chance.uniform(0, SPAN))
        due -= MISSED if one == 0 else timedelta()
        apply(database, look(due), conversation=f"telegram:{chat}", at=now)
    return f"telegram:{FIRST_CHAT + number * EACH}"


def _rung(database: Database) -> Counter[str]:
    """Rings by conversation."""
    rings = (
        select(tables.reminder.c.conversation, func.count()).join(tables.ring).group_by(tables.reminder.c.conversation)
    )
    with database.read() as connection:
        return Counter({row[0]: row[1] for row in connection.execute(rings)})


def _sent(server: TelegramServer) -> Counter[str]:
    """Texts by conversation, as its person saw them."""
    return _counted(server, "sendMessage")


def _spoken(server: TelegramServer) -> Counter[str]:
    return _counted(server, "sendVoice")


def _counted(server: TelegramServer, method: str) -> Counter[str]:
    return Counter(f"telegram:{one.chat_id}" for one in server.transcript.sent if one.method == method)


async def _until(what: Callable[[], bool]) -> None:
    """Wait; what never comes shows in the tally."""
    end = time.monotonic() + 180
    while not what() and time.monotonic() < end:
        await asyncio.sleep(0.05)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rounds", type=int, default=200)
    asked.add_argument("--seed", type=int, default=20270421)
    asked.add_argument("--programs", type=int, default=1)
    given = asked.parse_args()
    logging.getLogger("aiohttp.server").disabled = True  # a killed program hangs up in the middle of a request
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        tally = asyncio.run(kill_chat(Path(folder), given.rounds, given.seed, given.programs))
    print(f"{tally.killed} kills, {tally.partly} of them between two rings, {tally.unsent} with a message on its way,")
    print(f"{tally.mute} between a loud call and its voice note")
    once = sum(count == 1 for count in tally.rung.values())
    print(f"rung once: {once} of {tally.set}, more: {tally.rung.total() - len(tally.rung)}")
    print(f"reached: {len(tally.sent)}, sent again: {tally.sent.total() - len(tally.sent)}")
    print(f"said aloud: {len(tally.spoken)} of {len(tally.loud)}, again: {tally.spoken.total() - len(tally.spoken)}")
    print(f"{time.monotonic() - began:.0f} s")
    right = (
        tally.loud == set(tally.spoken)
        and len(tally.rung) == len(tally.sent) == tally.set
        and max(tally.rung.values()) == 1
    )
    raise SystemExit(0 if right else 1)


if __name__ == "__main__":
    main()
