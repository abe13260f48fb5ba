"""How late reminders leave, and whether memory stays flat: ``python -m tests.reminders.bench``.

First many open reminders fall due within a minute of real time, each in its own conversation, while as many again wait
for later; a reminder has left when a worker has taken it from the outbox and sends it. With ``--waiting 100000``
instead, the same lines are told on a record in which so many reminders wait and on an empty one, by turns; then some
fall due among those that wait. Then weeks of shifts on some
farms go by on a simulated clock: with ``--days 28`` four of them, with ``--open 0`` nothing else. All is worded as in
the chat.
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
from statistics import median

from sqlalchemy import insert

from bot.bell.ringing import Ringing
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.history.store import tables
from engine.queues.outbox import Outbox, Outgoing
from engine.reminders import reminder_changes
from engine.reminders.reminder import Stage
from engine.reminders.schedule import Schedule
from tests.helpers.bare_cost import commit_ms
from tests.helpers.bell import assistant, look, say
from tests.helpers.reminding import CHICAGO, EVENING, body
from tests.helpers.ringer import ONCE, deliver
from tests.helpers.talking import beginnings


def fill(database: Database, start: datetime, seconds: dict[str, float]) -> None:
    """One reminder in each conversation, due so many seconds after the start."""
    with database.begin() as connection:
        for conversation, after in seconds.items():
            due = start + timedelta(seconds=after)
            reminder_changes.apply(connection, conversation, [look(due)], start)


def lateness(database: Database, open_: int, span: float, seed: int) -> list[float]:
    """Seconds from due to sent, for every reminder due within the span."""
    chance = Random(seed)
    start = datetime.now(UTC) + timedelta(seconds=10 + open_ * 0.03)
    due = {f"c{number}": chance.uniform(0, span) for number in range(open_)}
    fill(database, start, due | {f"later{number}": chance.uniform(3600, 90000) for number in range(open_)})
    schedule, outbox = Schedule(database, ONCE), Outbox(database)
    compose = Ringing(assistant(database), database, CHICAGO).compose
    late: list[float] = []

    def sent(message: Outgoing) -> None:
        late.append((datetime.now(UTC) - start).total_seconds() - due[message.conversation])

    print(f"set {2 * open_} reminders, {(start - datetime.now(UTC)).total_seconds():.1f} s before the first is due")
    while len(late) < open_:
        busy = len(schedule.tick(datetime.now(UTC), compose)) + deliver(outbox, "w1", sent)
        time.sleep(0 if busy else 0.01)
    return late


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


ON_SHIFT = ("row three is high", "all good", "status", "refilled all rows", "snooze", "all good", "scratch that", "ok")


def crowd(database: Database, waiting: int) -> None:
    """So many reminders that wait, each in a conversation of its own."""
    rows = [
        {
            "conversation": f"crowd{number}",
            "name": "look",
            "local": f"2027-04-22T{number % 24:02}:00:00",
            "zone": CHICAGO,
            "second": False,
            "elapsed": True,
            "body": {},
            "due_at": EVENING + timedelta(days=300, seconds=number),
            "next_at": EVENING + timedelta(days=300, seconds=number),
            "state": Stage.WAITING,
            "asked": 0,
            "rung": 0,
        }
        for number in range(waiting)
    ]
    with database.begin() as connection:
        for first in range(0, waiting, 10_000):
            connection.execute(insert(tables.reminder), rows[first : first + 10_000])


def turns_among(folder: Path, waiting: int, rounds: int) -> tuple[list[float], list[float]]:
    """The processor seconds of each turn of a shift on an empty record and among reminders that wait."""
    talkers: list[tuple[Assistant, Schedule]] = []
    for count in (0, waiting):
        database = open_database(folder / f"among{count}.db")
        crowd(database, count)
        talkers.append((assistant(database), Schedule(database)))
    for talker, _ in talkers:
        for name in ("prepared", "catching", "finished", "planting"):
            for line in beginnings()[name]:
                say(talker, line, EVENING, "c")
    times: tuple[list[float], list[float]] = ([], [])
    for number in range(rounds * len(ON_SHIFT)):
        at = EVENING + timedelta(minutes=number)
        for (talker, schedule), spent in zip(talkers, times, strict=True):
            begun = time.process_time()
            say(talker, ON_SHIFT[number % len(ON_SHIFT)], at, "c")
            schedule.tick(at, body)
            spent.append(time.process_time() - begun)
    return times


def tell_waiting(folder: Path, waiting: int, rounds: int, span: float, seed: int) -> None:
    alone, among = turns_among(folder, waiting, rounds)
    more = [there / here - 1 for here, there in zip(alone, among, strict=True)]
    print(f"a turn with {waiting} reminders waiting: median {median(among) * 1000:.1f} ms of processor,", end=" ")
    print(f"alone {median(alone) * 1000:.1f} ms; line by line {median(more):+.1%} in the median of {len(more)}")
    database = open_database(folder / f"among{waiting}.db")
    late = sorted(lateness(database, min(waiting // 100, 200), span, seed))
    share = sum(one <= 1 for one in late) / len(late)
    print(f"of {len(late)} that fell due among them in {span:.0f} s {share:.1%} left within a second;", end=" ")
    print(f"median {median(late):.3f} s, longest {late[-1]:.3f} s; a bare commit {commit_ms(folder):.2f} ms")
    database.close()


def tell_lateness(place: Path, open_: int, span: float, seed: int) -> None:
    database = open_database(place)
    late = sorted(lateness(database, open_, span, seed))
    database.close()
    share = sum(one <= 1 for one in late) / len(late)
    middle, high = late[len(late) // 2], late[int(len(late) * 0.99)]
    print(f"{share:.2%} left within a second; median {middle:.3f} s, 99 % {high:.3f} s, longest {late[-1]:.3f} s")


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--open", type=int, default=10_000)
    asked.add_argument("--waiting", type=int, default=0, help="what a turn costs while so many wait, and nothing else")
    asked.add_argument("--rounds", type=int, default=10)
    asked.add_argument("--span", type=float, default=60.0)
    asked.add_argument("--farms", type=int, default=10)
    asked.add_argument("--days", type=int, default=7)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        if given.waiting:
            tell_waiting(Path(folder), given.waiting, given.rounds, given.span, given.seed)
            return
        if given.open:
            tell_lateness(Path(folder) / "due.db", given.open, given.span, given.seed)
        database = open_database(Path(folder) / "week.db")
        held, calls = week(database, given.farms, given.days)
        told = " ".join(f"{one / 1e6:.2f}" for one in held)
        print(f"{given.days} days of shifts on {given.farms} farms, {calls} calls; MB more after each: {told}")
        database.close()


if __name__ == "__main__":
    main()
