"""Whether memory stays flat while shifts go by: ``python -m tests.bench_memory --days 28``.

Each night a shift of fourteen hours on every farm, on a simulated clock; every call is answered. All is worded as in
the chat.
"""

from __future__ import annotations

import argparse
import gc
import tempfile
import tracemalloc
from datetime import timedelta
from pathlib import Path

from bot.bell.ringing import Ringing
from engine.database import Database, open_database
from engine.queues.outbox import Outbox
from engine.reminders.schedule import Schedule
from tests.helpers.bell import assistant, say
from tests.helpers.reminding import CHICAGO, EVENING
from tests.helpers.talking import beginnings


class Week:
    """Shifts of some farms, each talked as an operator talks, on a simulated clock."""

    def __init__(self, database: Database, farms: int) -> None:
        self.assistant, self.outbox = assistant(database), Outbox(database)
        self.schedule = Schedule(database)
        self.compose = Ringing(self.assistant, database, CHICAGO).compose
        self.farms = [f"farm{number}" for number in range(farms)]
        self.now, self.calls = EVENING, 0

    def tell(self, *lines: str) -> None:
        for farm in self.farms:
            for number, line in enumerate(lines):
                say(self.assistant, line, self.now + timedelta(seconds=number), farm)

    def night(self, hours: float) -> None:
        """Plant, and answer every call two minutes later, until the shift ends."""
        self.tell(*beginnings()["planting"])
        end = self.now + timedelta(hours=hours)
        while (due := self.schedule.next_due()) and due < end:
            self.now = due
            rung = self.schedule.tick(due, self.compose)
            self.calls += len(rung)
            self.outbox.mark_sent(*(one.key for one in self.outbox.claim("w1", due, timedelta(minutes=1), 100)))
            for ring in rung:
                say(self.assistant, "all good", due + timedelta(minutes=2), ring.conversation)
        self.now = end
        self.tell("end of shift", "done")


def week(database: Database, farms: int, days: int = 7) -> tuple[list[int], int]:
    """Bytes held by Python after each day with a shift of fourteen hours on every farm, and the calls of all days."""
    held, begun = [], Week(database, farms)
    begun.tell(*(line for name in ("prepared", "catching", "finished") for line in beginnings()[name]))
    tracemalloc.start()
    for day in range(days):
        begun.now = EVENING + timedelta(days=day)
        begun.night(14)
        gc.collect()
        held.append(tracemalloc.get_traced_memory()[0])
    tracemalloc.stop()
    return held, begun.calls


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--farms", type=int, default=10)
    asked.add_argument("--days", type=int, default=7)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        database = open_database(Path(folder) / "week.db")
        held, calls = week(database, given.farms, given.days)
        told = " ".join(f"{one / 1e6:.2f}" for one in held)
        print(f"{given.days} days of shifts on {given.farms} farms, {calls} calls; MB more after each: {told}")
        database.close()


if __name__ == "__main__":
    main()
