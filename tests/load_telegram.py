"""Large runs of the chat channel: ``python -m tests.load_telegram crash`` and ``python -m tests.load_telegram burst``.

``crash`` kills the bot again and again while 20 chats send 500 updates, and holds its history against that of a bot
nobody disturbed; with ``--webhook`` updates are brought to it. ``burst`` gives 5 000 texts of 1 000 chats at once to
a bot in a process of its own that may send as fast as it can: what is measured is this program, not the rate that the
real server allows.
"""

from __future__ import annotations

import argparse
import asyncio
import tempfile
import time
from pathlib import Path

from tests.helpers.chat_bot import bot_process
from tests.helpers.chat_crash import SAID, campaign
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


async def burst(chats: int, each: int) -> None:
    with tempfile.TemporaryDirectory() as folder:
        async with TelegramServer(judging=False) as server:
            await _warmed_up(server, Path(folder), chats, each)


async def _warmed_up(server: TelegramServer, folder: Path, chats: int, each: int) -> None:
    async with bot_process(server, folder / "record.db", folder / "bot.log"):
        server.user(chats + 1).says("help")
        await server.user(chats + 1).receives(timeout=60)
        begun = server.clock.now()
        for number in range(each):
            for chat in range(1, chats + 1):
                server.user(chat).says(SAID[number])
        while len(server.transcript.sent) <= chats * each:
            await server.bell.wait(1.0)
    _report(server, begun, chats, each)


def _report(server: TelegramServer, begun: float, chats: int, each: int) -> None:
    times = sorted(one.date - begun for one in server.transcript.sent[1:])
    firsts = [server.user(chat).received[0].date - begun for chat in range(1, chats + 1)]
    lasts = [server.user(chat).received[-1].date - begun for chat in range(1, chats + 1)]
    whole = all(len(server.user(chat).received) == each for chat in range(1, chats + 1))
    print(f"updates {chats * each}, chats {chats}: {len(times) / times[-1]:.0f} updates a second, all answered {whole}")
    print(f"reply after p50 {times[len(times) // 2]:.1f} s, p95 {times[len(times) * 95 // 100]:.1f} s of the burst")
    print(
        f"first answer of a chat after {min(firsts):.1f} to {max(firsts):.1f} s, last after {min(lasts):.1f} to",
        end=" ",
    )
    print(f"{max(lasts):.1f} s")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=["crash", "burst"])
    parser.add_argument("--chats", type=int)
    parser.add_argument("--each", type=int)
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--webhook", action="store_true", help="crash: updates are brought to the bot")
    given = parser.parse_args()
    if given.what == "crash":
        asyncio.run(crash(given.chats or 20, given.each or 25, given.kills, given.seed, given.webhook))
    else:
        asyncio.run(burst(given.chats or 1000, given.each or 5))


if __name__ == "__main__":
    main()
