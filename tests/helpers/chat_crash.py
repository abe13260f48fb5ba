"""Many chats talk at once while the bot is killed again and again; held against a bot that nobody disturbed."""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

from tests.helpers.chat_bot import bot_process, free_port, history, settings_for, started
from tests.helpers.telegram_server import TelegramServer
from tests.helpers.telegram_server.fault import Repeats, Shuffled

SAID = """set up
four
thirty inches
zero to thirty by one
no
skip
skip
five pounds an acre
ten pounds an acre
eight point seven one two pounds an acre
five miles an hour
three hundred feet
scale
zero
one gram
test run
row one twelve, row two twelve, row three twelve, row four twelve
forty one seconds
row one sixty eight grams
row two seventy five grams
scratch that
row two seventy grams
row three sixty nine grams
status
target
help""".splitlines()
"""Twenty-five things to say, no two neighbours of which have the same answer."""


@dataclass(frozen=True)
class Outcome:
    """What both bots kept, how the killed one sent, and how many kills hit a living process."""

    calm: dict[str, list[tuple[object, ...]]]
    killed: dict[str, list[tuple[object, ...]]]
    heard: dict[str, list[str]]
    answered: dict[str, list[str]]
    duplicates: Counter[int]
    kills: int


async def campaign(
    folder: Path,
    *,
    chats: int,
    each: int,
    kills: int,
    seed: int,
    note: Callable[[str], None],
    webhook: bool = False,
) -> Outcome:
    """``chats`` people say the first ``each`` of SAID, mixed by chance; the bot is killed ``kills`` times meanwhile.

    With ``webhook`` the updates are brought to the bot that is killed, which otherwise asks for them.
    """
    chance = Random(seed)
    order = [chat for chat in range(1, chats + 1) for _ in range(each)]
    chance.shuffle(order)
    calm, killed = folder / "calm.db", folder / "killed.db"
    async with TelegramServer(judging=chats < 10) as server:
        _speak(server, order)
        async with started(settings_for(server, calm)):
            await _all_answered(server, chats, each)
    note("undisturbed run done")
    port = free_port() if webhook else None
    async with TelegramServer(judging=chats < 10) as server:
        hits = await _disturbed(server, killed, order, chance, kills, note, port)
        async with bot_process(server, killed, folder / "bot.log", port):
            await _all_answered(server, chats, each)
            await asyncio.sleep(0.5)
        answers = {f"telegram:{chat}": [one.text for one in server.user(chat).received] for chat in range(1, chats + 1)}
        duplicates = server.transcript.duplicates()
    heard = {f"telegram:{chat}": SAID[:each] for chat in range(1, chats + 1)}
    return Outcome(history(calm), history(killed), heard, answers, duplicates, hits)


def _speak(server: TelegramServer, order: list[int]) -> None:
    said: Counter[int] = Counter()
    for chat in order:
        server.user(chat).says(SAID[said[chat]])
        said[chat] += 1


async def _disturbed(
    server: TelegramServer,
    place: Path,
    order: list[int],
    chance: Random,
    kills: int,
    note: Callable[[str], None],
    port: int | None,
) -> int:
    """Speak in as many pieces as there are kills; in each the bot dies at a random point, updates come
    doubled and in another order, and the network is cut and restored."""
    hits, size = 0, -(-len(order) // max(kills, 1))
    said: Counter[int] = Counter()
    for number in range(kills):
        if port is None:
            server.faults.plan("getUpdates", Repeats(5))
            server.faults.plan("getUpdates", Shuffled(number, within_chats=True), times=2)
        server.webhook.repeats = 5
        async with bot_process(server, place, place.parent / "bot.log", port) as bot:
            before = len(server.transcript.sent)
            for chat in order[number * size : (number + 1) * size]:
                server.user(chat).says(SAID[said[chat]])
                said[chat] += 1
            await _cut(server, chance)
            wanted = before + chance.randrange(1, size)
            while len(server.transcript.sent) < wanted and bot.returncode is None:
                await server.bell.wait(0.2)
            await asyncio.sleep(chance.uniform(0, 0.05))
            if bot.returncode is None:
                bot.kill()
                hits += 1
            note(f"kill {number + 1} of {kills}: {len(server.transcript.sent)} messages sent")
    return hits


async def _cut(server: TelegramServer, chance: Random) -> None:
    """The network goes for a moment and comes back."""
    await asyncio.sleep(chance.uniform(0.5, 1.5))
    server.faults.network_down = True
    await asyncio.sleep(chance.uniform(0.1, 0.5))
    server.faults.network_down = False


async def _all_answered(server: TelegramServer, chats: int, each: int) -> None:
    """Until every chat has the answer to its last message."""
    async with asyncio.timeout(600):
        while sum(len(_without_repeats(server, chat)) >= each for chat in range(1, chats + 1)) < chats:
            await server.bell.wait(0.5)


def _without_repeats(server: TelegramServer, chat: int) -> list[str]:
    texts = [one.text for one in server.user(chat).received]
    return [text for at, text in enumerate(texts) if at == 0 or texts[at - 1] != text]
