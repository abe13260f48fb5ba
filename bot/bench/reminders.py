"""``rowhand bench reminders``: what a turn takes while many reminders wait, and how late those that are due leave."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import cycle, islice
from pathlib import Path
from random import Random
from statistics import median
from typing import Annotated

import typer
from sqlalchemy import insert

from bot.bell.ringing import Ringing
from bot.bench.bare_cost import bare_record
from bot.bench.figure import BareCost, Figure, percentile, sheet
from bot.bench.long_talk import EVENING, begin_shift, say
from bot.bench.turns import COMMIT, ON_SHIFT
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.history.store import tables
from engine.quantities import Measure
from engine.queues.outbox import Outbox, Outgoing
from engine.reminders import reminder_changes
from engine.reminders.local_time import LocalTime
from engine.reminders.reminder import Remind, Stage
from engine.reminders.schedule import ReminderPolicy, Schedule

ZONE, LOOK = "America/Chicago", "look"
LATER, AT_ONCE, LEASE = timedelta(days=300), 10_000, timedelta(seconds=1)
ONCE = ReminderPolicy(again=timedelta(hours=1))
"""Nobody answers; nothing rings a second time while it is measured."""
TOLD = (
    "the same lines of a shift by turns on a record with {waiting} waiting reminders and on one with none; "
    "each turn rings what is due"
)
MORE = "the turn with reminders against the same line without, time {of}, median of {count} pairs"
LATE = (
    "{due} reminders, each in a conversation of its own, fall due within {span:g} s of real time among those that "
    "wait; late is from due until a worker has the message in hand; the bare commits are those between the turns"
)


@dataclass(frozen=True)
class TimedPair:
    """Milliseconds of one turn by the wall and of the processor, without and with waiting reminders, and of the bare
    commit before both."""

    alone: float
    among: float
    alone_cpu: float
    among_cpu: float
    bare: float


@dataclass(frozen=True)
class Shift:
    """One conversation on shift, and what rings in it."""

    assistant: Assistant
    schedule: Schedule
    ringing: Ringing

    @classmethod
    def begun(cls, database: Database) -> Shift:
        assistant = Assistant(database)
        begin_shift(assistant, EVENING)
        return cls(assistant, Schedule(database), Ringing(assistant, database, ZONE))

    def turn(self, line: str, at: datetime) -> tuple[float, float]:
        """Seconds by the wall and of the processor."""
        wall, used = time.perf_counter(), time.process_time()
        say(self.assistant, line, at)
        self.schedule.tick(at, self.ringing.compose)
        return time.perf_counter() - wall, time.process_time() - used


def reminders(
    waiting: Annotated[int, typer.Option(min=1, help="reminders that wait")] = 100_000,
    said: Annotated[int, typer.Option("--turns", min=1, help="turns that are timed, with them and without")] = 80,
    due: Annotated[int, typer.Option(min=1, help="reminders that fall due among them")] = 500,
    span: Annotated[float, typer.Option(min=0.1, help="seconds in which they do")] = 60.0,
    seed: Annotated[int, typer.Option(help="of when they do")] = 1,
    folder: Annotated[Path | None, typer.Option(help="whose disk is measured", exists=True, file_okay=False)] = None,
    as_json: Annotated[bool, typer.Option("--json", help="one object a line")] = False,
) -> None:
    """Measure what a turn takes while many reminders wait, and how late those that are due leave."""
    with tempfile.TemporaryDirectory(dir=folder) as name:
        place = Path(name)
        database = open_database(place / "among.db")
        let_wait(database, waiting)
        pairs = timed_pairs(place, database, said)
        late = lateness(database, due, span, seed)
        bare = BareCost(COMMIT, median(one.bare for one in pairs))
        figures = [*of_turns(pairs, waiting, bare), *of_lateness(late, span, bare)]
        sheet("reminders", place, figures).print(as_json)
        database.close()


def let_wait(database: Database, waiting: int) -> None:
    """So many reminders that wait, each in a conversation of its own, none of them due."""
    rows = [_waiting(number) for number in range(waiting)]
    with database.begin() as connection:
        for first in range(0, waiting, AT_ONCE):
            connection.execute(insert(tables.reminder), rows[first : first + AT_ONCE])


def _waiting(number: int) -> dict[str, object]:
    due = datetime.now(UTC) + LATER + timedelta(seconds=number)
    return {
        "conversation": f"waits{number}",
        "name": LOOK,
        "local": f"{due:%Y-%m-%dT%H:%M:%S}",
        "zone": ZONE,
        "second": False,
        "elapsed": True,
        "body": {},
        "due_at": due,
        "next_at": due,
        "state": Stage.WAITING,
        "asked": 0,
        "rung": 0,
    }


def timed_pairs(place: Path, among: Database, said: int) -> list[TimedPair]:
    """The turns of two shifts, one on an empty record, the same line on each in turn."""
    alone = open_database(place / "alone.db")
    one, other = Shift.begun(alone), Shift.begun(among)
    with bare_record(place) as bare:
        pairs = []
        for number, line in enumerate(islice(cycle(ON_SHIFT), said), 1):
            at, commit = EVENING + timedelta(minutes=number), bare.commit()
            (wall, used), (wall_among, used_among) = one.turn(line, at), other.turn(line, at)
            pairs.append(TimedPair(*(1000 * one for one in (wall, wall_among, used, used_among, commit))))
    alone.close()
    return pairs


def of_turns(pairs: Sequence[TimedPair], waiting: int, bare: BareCost) -> Iterator[Figure]:
    told = TOLD.format(waiting=waiting)
    for name, times in ((f"{waiting} waiting", [one.among for one in pairs]), ("none", [one.alone for one in pairs])):
        for percent in (50, 95):
            yield Figure(f"a turn, {name}, p{percent}", percentile(times, percent), "ms", told, bare)
    of = {"by the wall": [one.among / one.alone for one in pairs]}
    of["of the processor"] = [one.among_cpu / one.alone_cpu for one in pairs]
    for name, ratios in of.items():
        method = MORE.format(count=len(pairs), of=name)
        yield Figure(f"more {name}", 100 * (median(ratios) - 1), "%", method)


def lateness(database: Database, due: int, span: float, seed: int) -> list[float]:
    """Seconds from due to sent, for every reminder that falls due within the span."""
    chance, start = Random(seed), datetime.now(UTC) + timedelta(seconds=2 + due * 0.01)
    after = {f"due{number}": chance.uniform(0, span) for number in range(due)}
    with database.begin() as connection:
        for conversation, seconds in after.items():
            reminder_changes.apply(connection, conversation, [_look(start + timedelta(seconds=seconds))], start)
    return _sent(database, {name: start + timedelta(seconds=seconds) for name, seconds in after.items()})


def _sent(database: Database, due: dict[str, datetime]) -> list[float]:
    """Ring and send until all that is due has left."""
    schedule, outbox, left = Schedule(database, ONCE), Outbox(database), dict[str, float]()
    compose = Ringing(Assistant(database), database, ZONE).compose
    while due.keys() - left.keys():
        rung = schedule.tick(datetime.now(UTC), compose)
        messages = outbox.claim("bench", datetime.now(UTC), LEASE, limit=100)
        left |= {one.conversation: _late(one, due) for one in messages if one.conversation in due}
        outbox.mark_sent(*(one.key for one in messages))
        time.sleep(0 if rung or messages else 0.01)
    return list(left.values())


def _late(message: Outgoing, due: dict[str, datetime]) -> float:
    return (datetime.now(UTC) - due[message.conversation]).total_seconds()


def _look(due: datetime) -> Remind:
    """The reminder of a shift that plants five acres between the looks."""
    area = Measure(value=5.0, unit="acre").model_dump(mode="json")
    at = due - timedelta(minutes=25)
    body: dict[str, object] = {"at": at.isoformat(), "due": due.isoformat(), "area": area, "decided_by": "acres"}
    return Remind(LOOK, LocalTime.of(due, ZONE), elapsed=True, body=body)


def of_lateness(late: Sequence[float], span: float, bare: BareCost) -> Iterator[Figure]:
    method = LATE.format(due=len(late), span=span)
    for percent in (50, 99, 100):
        yield Figure(f"late, p{percent}", percentile(late, percent) * 1000, "ms", method, bare)
    within = 100 * sum(one <= 1 for one in late) / len(late)
    yield Figure("left within a second", within, "%", method)
