"""Large runs of the chat channel: ``python -m tests.load_telegram crash`` and ``python -m tests.load_telegram burst``.

``crash`` kills the bot again and again while 20 chats send 500 updates, and holds its history against that of a bot
nobody disturbed; with ``--webhook`` updates are brought to it. ``ruin`` does so with texts, sound, presses and
reminders, and on a server (``python -m tests.postgres --run tests.load_telegram ruin --programs 2``) with several
programs that share the work. ``burst`` gives 5 000 texts of 1 000 chats at once to
a bot in a process of its own that may send as fast as it can: what is measured is this program, not the rate that the
real server allows. A commit of one row and a bare loop are timed in the same run, since machines are shared.
"""

from __future__ import annotations

import argparse
import asyncio
import logging
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select

from bot.bench.bare_cost import commit_ms, loop_ms, used_s
from engine.database import open_database
from engine.history.store import tables
from tests.helpers.chat_bot import bot_process
from tests.helpers.chat_crash import SAID, campaign
from tests.helpers.chat_ruin import Plan, ruin
from tests.helpers.record import where
from tests.helpers.telegram_server import TelegramServer


async def crash(chats: int, each: int, kills: int, seed: int, webhook: bool) -> None:
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        outcome = await campaign(
            Path(folder), chats=chats, each=each, kills=kills, seed=seed, note=print, webhook=webhook
        )
    lost = sum(len(said) - len(outcome.killed.get(name, [])) for name, said in outcome.heard.items())
    moved = sum([turn[2] for turn in outcome.killed[name]] != said for name, said in outcome.heard.items())
    differing = sum(outcome.killed.get(name) != turns for name, turns in outcome.calm.items())
    worst = max(outcome.duplicates.values(), default=0)
    print(f"updates {chats * each}, chats {chats}, kills {outcome.kills}, {time.monotonic() - begun:.0f} s")
    print(f"lost {lost}, chats out of order {moved}, chats whose history differs {differing}")
    print(f"sent twice {sum(outcome.duplicates.values())}, most in one chat {worst} (allowed {outcome.kills})")


async def ruin_all(plan: Plan) -> None:
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        found = await ruin(Path(folder), plan, print)
    chats = [f"telegram:{chat}" for chat in range(1, plan.chats + 1)]
    differing = sum(found.killed.get(name) != found.calm[name] for name in chats)
    turns = sum(len(found.killed.get(name, ())) for name in chats)
    waited = sorted(found.waited_s)
    print(f"{found.hits} kills of {plan.programs} programs, {time.monotonic() - begun:.0f} s")
    print(f"{turns} turns of {plan.chats} chats, {plan.voices} notes, {plan.chats} presses:", end=" ")
    print(f"chats whose history differs {differing}")
    print(f"rung once {sum(count == 1 for count in found.rung.values())} of {plan.kills * plan.rings}", end=", ")
    print(f"more {found.rung.total() - len(found.rung)}, reached {len(found.called)}")
    print(f"sent twice {found.twice}, without saying so {found.unmarked}")
    print(f"next message after a kill: median {waited[len(waited) // 2]:.2f} s, p95 {_share(waited, 95):.2f} s")
    whole = not differing and set(found.rung.values()) == {1} and len(found.called) == plan.kills * plan.rings
    raise SystemExit(0 if whole else 1)


@dataclass
class Burst:
    """What a burst gave: seconds from its begin to each update handled and each answer, and what the machine cost."""

    handled: list[float]
    answered: list[float]
    cpu_ms: float
    commit_ms: float
    loop_ms: float


async def burst(chats: int, each: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        async with TelegramServer(judging=False) as server:
            _tell(await _warmed_up(server, Path(folder), chats, each), chats * each)
            _tell_chats(server, chats, each)


async def _warmed_up(server: TelegramServer, folder: Path, chats: int, each: int) -> Burst:
    place = folder / "record.db"
    async with bot_process(server, place, folder / "bot.log") as bot:
        server.user(chats + 1).says("help")
        await server.user(chats + 1).receives(timeout=120)
        commits, loops = [commit_ms(folder)], [loop_ms()]
        used, begun = used_s(bot.pid), server.clock.now()
        for number in range(each):
            for chat in range(1, chats + 1):
                server.user(chat).says(SAID[number])
        users = [server.user(chat) for chat in range(1, chats + 1)]
        while any(len(user.received) < each for user in users):
            await server.bell.wait(1.0)
        used = used_s(bot.pid) - used
        commits, loops = [*commits, commit_ms(folder)], [*loops, loop_ms()]
    answered = sorted(one.date - begun for user in users for one in user.received)
    cpu_ms = 1000 * used / (chats * each)
    return Burst(_handled(place, begun), answered, cpu_ms, sum(commits) / 2, sum(loops) / 2)


def _handled(place: Path, begun: float) -> list[float]:
    """When each update of the burst was done, in seconds of it."""
    database = open_database(where(place))
    with database.read() as connection:
        done = connection.execute(select(tables.inbox.c.done_at)).scalars().all()
    database.close()
    return sorted(one.timestamp() - begun for one in done if one and one.timestamp() >= begun)


def _tell(found: Burst, updates: int) -> None:
    handled, answered = found.handled, found.answered
    print(f"{updates} updates: {updates / answered[-1]:.0f} a second, {found.cpu_ms:.1f} ms of processor each")
    print(f"handled p50 {_share(handled, 50):.1f} s, p95 {_share(handled, 95):.1f} s of the burst")
    print(f"answered p50 {_share(answered, 50):.1f} s, p95 {_share(answered, 95):.1f} s", end=", ")
    print(f"{_share(answered, 95) / _share(handled, 95):.2f} times the p95 of handling")
    bare = answered[-1] * 1000 / updates / found.commit_ms
    print(f"a bare commit {found.commit_ms:.2f} ms: an update takes {bare:.1f} of them", end="; ")
    print(f"a bare loop {found.loop_ms:.1f} ms: an update computes for {found.cpu_ms / found.loop_ms:.2f} of them")


def _share(times: list[float], percent: int) -> float:
    return times[len(times) * percent // 100]


def _tell_chats(server: TelegramServer, chats: int, each: int) -> None:
    users = [server.user(chat) for chat in range(1, chats + 1)]
    print(f"all answered {all(len(user.received) == each for user in users)}")
    begun = min(user.received[0].date for user in users)
    lasts = [user.received[-1].date - begun for user in users]
    print(f"last answer of a chat {min(lasts):.1f} to {max(lasts):.1f} s after the first of all")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["crash", "ruin", "burst"])
    parser.add_argument("--chats", type=int)
    parser.add_argument("--each", type=int)
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--webhook", action="store_true", help="crash: updates are brought to the bot")
    parser.add_argument("--programs", type=int, default=1, help="ruin: so many share the work, on a server")
    parser.add_argument("--voices", type=int, default=2, help="ruin: so many chats send a voice note")
    given = parser.parse_args()
    logging.getLogger("aiohttp.server").disabled = True  # a killed program hangs up in the middle of a request
    if given.what == "crash":
        asyncio.run(crash(given.chats or 20, given.each or 25, given.kills, given.seed, given.webhook))
    elif given.what == "ruin":
        each = given.each or min(len(SAID), max(given.kills // 5, 5))
        plan = Plan(given.chats or 20, each, given.kills, given.programs, given.voices, 2, given.seed)
        asyncio.run(ruin_all(plan))
    else:
        asyncio.run(burst(given.chats or 1000, given.each or 5))


if __name__ == "__main__":
    main()
