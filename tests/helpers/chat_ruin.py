"""All that a chat brings while programs are killed: texts, sound, presses and reminders, on one or more programs.

The same is said to a bot that nobody disturbs, and both histories are held against each other. Presses come when all
texts are answered, since the server brings them on a way of their own.
"""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
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
from tests.helpers.chat_bot import history, settings_for, started
from tests.helpers.chat_crash import SAID
from tests.helpers.forked import chat_process
from tests.helpers.process import ROOT
from tests.helpers.reminding import apply
from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.fault import Cut, Repeats

SOUND = ROOT / "demo/voice/done.ogg"
PRESSED = "status"
FIRST_RUNG = 1_000
PATIENCE_S, LONGEST_WAIT_S = 600, 60
Histories = Mapping[str, Sequence[tuple[object, ...]]]


@dataclass(frozen=True)
class Plan:
    """``chats`` people say so many lines ``each``, the first ``voices`` of them a note too; in each of ``kills`` rounds
    one of ``programs`` dies and ``rings`` reminders fall due."""

    chats: int
    each: int
    kills: int
    programs: int
    voices: int
    rings: int
    seed: int


@dataclass(frozen=True)
class Ruin:
    """What came of it: both histories, ``hits`` living programs killed, rings by conversation and texts by those who
    were rung, texts sent more than once, those of them that did not say that they may come twice, seconds from a kill
    until the others or the next one answered."""

    calm: Histories
    killed: Histories
    hits: int
    rung: Counter[str]
    called: Counter[int]
    twice: int
    unmarked: int
    waited_s: tuple[float, ...]


async def ruin(folder: Path, plan: Plan, note: Callable[[str], None]) -> Ruin:
    chance = Random(plan.seed)
    order = [chat for chat in range(1, plan.chats + 1) for _ in range(plan.each)]
    chance.shuffle(order)
    async with TelegramServer(judging=False) as server, started(settings_for(server, folder / "calm.db")):
        _speak(server, plan, order, Counter())
        await _answered(server, plan, plan.each)
        _press(server, plan)
        await _answered(server, plan, plan.each + 1)
    note("undisturbed run done")
    place = folder / "killed.db"
    async with TelegramServer(judging=False) as server:
        hits, waited = await _disturbed(server, folder, place, plan, order, chance, note)
        called = Counter(one.chat_id for one in server.transcript.sent if one.chat_id >= FIRST_RUNG)
        duplicates = server.transcript.duplicates()
        marked = sum("may come twice" in one.text for one in server.transcript.sent)
        database = open_database(settings_for(server, place).database)
        rung = _rung(database)
        database.close()
    calm, killed = history(folder / "calm.db"), history(place)
    return Ruin(calm, killed, hits, rung, called, duplicates.total() + marked, duplicates.total(), tuple(waited))


async def _disturbed(
    server: TelegramServer,
    folder: Path,
    place: Path,
    plan: Plan,
    order: list[int],
    chance: Random,
    note: Callable[[str], None],
) -> tuple[int, list[float]]:
    settings = settings_for(server, place, again_minutes=60)
    database = open_database(settings.database)
    programs = [await _run(settings, folder, number) for number in range(plan.programs)]
    size, said, waited = -(-len(order) // plan.kills), Counter[int](), list[float]()
    for number in range(plan.kills):
        server.faults.plan("getUpdates", Repeats(5))
        if number % 5 == 0:
            server.faults.plan("sendMessage", Cut(done=True))
        _ring(server, database, plan, number, chance)
        _speak(server, plan, order[number * size : (number + 1) * size], said)
        await asyncio.sleep(chance.uniform(0.05, 1.0))
        victim = chance.randrange(plan.programs)
        programs[victim].kill()
        await asyncio.to_thread(programs[victim].join)
        if plan.programs == 1:
            programs[victim] = await _run(settings, folder, victim)
        waited.append(await _goes_on(server, lambda: _all_said(server, said)))
        if plan.programs > 1:
            programs[victim] = await _run(settings, folder, victim)
        if (number + 1) % 10 == 0:
            note(f"kill {number + 1} of {plan.kills}: {len(server.transcript.sent)} messages sent")
    await _answered(server, plan, plan.each)
    _press(server, plan)
    programs[0].kill()
    await asyncio.to_thread(programs[0].join)
    programs[0] = await _run(settings, folder, 0)
    await _answered(server, plan, plan.each + 1)
    await _until(lambda: len(_rung(database)) == plan.kills * plan.rings)
    await asyncio.sleep(1)
    for program in programs:
        program.kill()
        await asyncio.to_thread(program.join)
    database.close()
    return plan.kills + 1, waited


async def _run(settings: Settings, folder: Path, number: int) -> ForkServerProcess:
    return await asyncio.to_thread(chat_process, settings, folder / f"{number}.log", number == 0, True)


async def _goes_on(server: TelegramServer, is_all_said: Callable[[], bool]) -> float:
    """Seconds until something more is sent, unless there is nothing left to say."""
    before, loop = len(server.transcript.sent), asyncio.get_running_loop()
    begun = loop.time()
    while len(server.transcript.sent) == before and not is_all_said() and loop.time() - begun < LONGEST_WAIT_S:
        await server.bell.wait(0.1)
    return loop.time() - begun


def _all_said(server: TelegramServer, said: Counter[int]) -> bool:
    return all(_once(server, chat) >= count for chat, count in said.items())


def _speak(server: TelegramServer, plan: Plan, order: Sequence[int], said: Counter[int]) -> None:
    for chat in order:
        if chat <= plan.voices and said[chat] == plan.each - 1:
            server.user(chat).sends_voice(SOUND.read_bytes())
        else:
            server.user(chat).says(SAID[said[chat]])
        said[chat] += 1


def _press(server: TelegramServer, plan: Plan) -> None:
    """A button of the newest question of each chat, which says words that no dialog minds."""
    for chat in range(1, plan.chats + 1):
        person = server.user(chat)
        person.calls_back(f"{plan.each}:{PRESSED}", person.received[-1].message_id)


def _ring(server: TelegramServer, database: Database, plan: Plan, number: int, chance: Random) -> None:
    now = datetime.now(UTC)
    for one in range(plan.rings):
        chat = FIRST_RUNG + number * plan.rings + one
        server.user(chat).chat.open = True
        due = now + timedelta(seconds=chance.uniform(0, 1))
        apply(database, look(due), conversation=f"telegram:{chat}", at=now)


def _rung(database: Database) -> Counter[str]:
    conversation = tables.reminder.c.conversation
    rings = select(conversation, func.count()).join(tables.ring).group_by(conversation)
    with database.read() as connection:
        return Counter({row[0]: row[1] for row in connection.execute(rings)})


async def _answered(server: TelegramServer, plan: Plan, count: int) -> None:
    """Until every chat has so many answers, repeats left out."""
    await _until(lambda: all(_once(server, chat) >= count for chat in range(1, plan.chats + 1)))


def _once(server: TelegramServer, chat: int) -> int:
    texts = [one.text for one in server.user(chat).received if "may come twice" not in one.text and one.text]
    return sum(text != before for before, text in zip(["", *texts], texts, strict=False))


async def _until(what: Callable[[], bool]) -> None:
    async with asyncio.timeout(PATIENCE_S):
        while not what():
            await asyncio.sleep(0.2)
