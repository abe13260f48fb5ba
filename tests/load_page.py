"""Many phones on one page, and the same turns without it: ``python -m tests.load_page --phones 50 --turns 200``.

The phones share one conversation and take turns in saying one line each over real lines; every one of them is shown
every turn. Beside that, in the same run, the same lines are said to an assistant of its own, as ``rowhand talk`` does.
Printed are the middle and the 95th percentile of the time from a line to its answer, and to the view on the last phone.
"""

from __future__ import annotations

import argparse
import asyncio
import statistics
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from engine.assistant import Assistant
from engine.database import open_database
from engine.messages import Utterance
from tests.helpers.page_client import PhoneWire, paired
from tests.helpers.page_host import PageHost
from tests.helpers.talking import beginnings

BEFORE = ("prepared", "catching")
MILLI = 1000.0


def lines(turns: int) -> list[str]:
    """Catches of eight rows, told anew again and again, each change taken back by the next line."""
    return [f"row {number % 8 + 1} {70 + number % 9} g" if number % 3 else "what is left" for number in range(turns)]


async def by_phones(host: PageHost, phones: int, turns: int) -> tuple[list[float], list[float]]:
    """How long each line took until it was settled, and until the last phone showed it."""
    tokens = [paired(host) for _ in range(phones)]
    wires = [await PhoneWire.open(host, token) for token in tokens]
    settled, shown = [], []
    for number, text in enumerate(lines(turns)):
        begun = time.perf_counter()
        one = wires[number % phones]
        found = await one.say(text)
        settled.append(time.perf_counter() - begun)
        assert found["how"] == "taken", found
        seq = host.journal.last("console")
        await asyncio.gather(*(wire.stands(seq) for wire in wires))
        shown.append(time.perf_counter() - begun)
    for wire in wires:
        wire.close()
    return settled, shown


def directly(place: Path, host: PageHost, turns: int) -> list[float]:
    """The same lines to an assistant on a record of its own."""
    assistant = Assistant(open_database(str(place)), host.parts.taker.assistant._rules)
    taken = []
    for number, text in enumerate([*(one for name in BEFORE for one in beginnings()[name]), *lines(turns)]):
        said = Utterance(
            id=f"direct:{number}", conversation="console", text=text, language="en", said_at=datetime.now(UTC)
        )
        begun = time.perf_counter()
        assistant.hear(said)
        taken.append(time.perf_counter() - begun)
    return taken[-turns:]


def told(name: str, taken: list[float]) -> str:
    share = statistics.quantiles(taken, n=20)[-1] * MILLI
    return f"{name:<34} p50 {statistics.median(taken) * MILLI:7.1f} ms   p95 {share:7.1f} ms"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--phones", type=int, default=50, choices=range(1, 61), metavar="1-60")
    asked.add_argument("--turns", type=int, default=200)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        host = PageHost(Path(folder) / "page.db")
        host.elsewhere(*(one for name in BEFORE for one in beginnings()[name]))
        settled, shown = asyncio.run(by_phones(host, given.phones, given.turns))
        direct = directly(Path(folder) / "direct.db", host, given.turns)
        host.close()
    print(f"{given.phones} phones, {given.turns} turns")
    print(told("direct, no page", direct))
    print(told("page, until the line is settled", settled))
    print(told("page, until the last phone shows it", shown))


if __name__ == "__main__":
    main()
