"""How late reminders leave, and whether memory stays flat: ``python -m tests.reminders.bench``.

First many open reminders fall due within a minute of real time, each in its own conversation, while as many again wait
for later; a reminder has left when a worker has taken it from the outbox and sends it. Then a week of checks for
some farms goes by on a simulated clock.
"""

from __future__ import annotations

import argparse
import gc
import tempfile
import time
import tracemalloc
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from engine.database import Database, open_database
from engine.outbox import Outbox, Outgoing
from engine.reminders import changes
from engine.reminders.reminder import Answer, Remind
from engine.reminders.schedule import Schedule
from engine.reminders.wall import later
from tests.helpers.reminding import CHICAGO, EVENING, apply, body
from tests.helpers.ringer import ONCE, deliver


def fill(database: Database, start: datetime, seconds: dict[str, float]) -> None:
    """One reminder in each conversation, due so many seconds after the start."""
    with database.begin() as connection:
        for conversation, after in seconds.items():
            due = later(start, timedelta(seconds=after), CHICAGO)
            changes.apply(connection, conversation, [Remind("hoppers", due, elapsed=True)], start)


def lateness(database: Database, open_: int, span: float, seed: int) -> list[float]:
    """Seconds from due to sent, for every reminder due within the span."""
    chance = Random(seed)
    start = datetime.now(UTC) + timedelta(seconds=5 + open_ * 0.01)
    due = {f"c{number}": chance.uniform(0, span) for number in range(open_)}
    fill(database, start, due | {f"later{number}": chance.uniform(3600, 90000) for number in range(open_)})
    schedule, outbox = Schedule(database, ONCE), Outbox(database)
    late: list[float] = []

    def sent(message: Outgoing) -> None:
        late.append((datetime.now(UTC) - start).total_seconds() - due[message.conversation])

    print(f"set {2 * open_} reminders, {(start - datetime.now(UTC)).total_seconds():.1f} s before the first is due")
    while len(late) < open_:
        busy = len(schedule.tick(datetime.now(UTC), body)) + deliver(outbox, "w1", sent)
        time.sleep(0 if busy else 0.01)
    return late


def week(database: Database, farms: int) -> list[int]:
    """Bytes held by Python after each day of a check every half hour on every farm, answered two minutes later."""
    schedule, outbox = Schedule(database), Outbox(database)
    held, now = [], EVENING
    tracemalloc.start()
    for _ in range(7):
        for _ in range(48):
            for farm in range(farms):
                due = later(now, timedelta(minutes=28), CHICAGO)
                apply(
                    database, Answer("hoppers"), Remind("hoppers", due, elapsed=True), conversation=f"f{farm}", at=now
                )
            now += timedelta(minutes=30)
            rung = schedule.tick(now, body)
            assert len(rung) == farms
            outbox.mark_sent(*(message.key for message in outbox.claim("w1", now, timedelta(minutes=1), farms)))
        gc.collect()
        held.append(tracemalloc.get_traced_memory()[0])
    tracemalloc.stop()
    return held


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--open", type=int, default=10_000)
    asked.add_argument("--span", type=float, default=60.0)
    asked.add_argument("--farms", type=int, default=10)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        database = open_database(Path(folder) / "due.db")
        late = sorted(lateness(database, given.open, given.span, given.seed))
        database.close()
        share = sum(one <= 1 for one in late) / len(late)
        middle, high = late[len(late) // 2], late[int(len(late) * 0.99)]
        print(f"{share:.2%} left within a second; median {middle:.3f} s, 99 % {high:.3f} s, longest {late[-1]:.3f} s")
        database = open_database(Path(folder) / "week.db")
        days = [f"{held / 1e6:.2f}" for held in week(database, given.farms)]
        print(f"a week of checks on {given.farms} farms, MB held after each day: {' '.join(days)}")
        database.close()


if __name__ == "__main__":
    main()
