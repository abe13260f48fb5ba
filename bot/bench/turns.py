"""``rowhand bench turns``: what a typed turn takes beside a bare commit, where it goes, and how a long talk opens."""

from __future__ import annotations

import sqlite3
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import cycle, islice
from pathlib import Path
from statistics import median
from typing import Annotated

import typer
from sqlalchemy import func, select

from bot.bench.bare_cost import bare_record
from bot.bench.figure import BareCost, Figure, percentile, sheet
from bot.bench.long_talk import EVENING, TALK, LongTalk, begin_shift, evening, say, turns_with
from bot.bench.stopwatch import Place, Stopwatch
from engine import assistant as conversations
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.dialog.facts.state import ConversationState
from engine.dialog.interpreter import Interpreter
from engine.errors import DatabaseError
from engine.history.store import tables
from engine.history.store.journal import Journal
from engine.history.store.snapshot import EVERY

ON_SHIFT = ("row three is high", "all good", "status", "refilled all rows", "snooze", "all good", "scratch that", "ok")
PARTS: dict[str, tuple[Place, ...]] = {
    "reading the sentence": ((Interpreter, "expectation"), (conversations, "understand")),
    "folding": ((Interpreter, "take"), (conversations, "fold")),
    "looking up": ((Journal, "turn"), (Journal, "turns"), (conversations, "told_on_farm")),
    "writing": ((Journal, "append"),),
}
REST, COMMIT, READ = "the rest", "commit", "read"
SAID = (
    "lines of a shift in turn, typed to the assistant on a file; before each one a bare commit on the same disk with "
    "the same settings; {facts} facts before"
)
OWN = "the turn less the median of the bare commits"
PART = "median over the turns of the time inside these functions; writing holds the commit"
WROTE = "one turn of the opened conversation, with which a snapshot is due"
OPENINGS = 3
OPENED = (
    "first state of a conversation of {turns} turns in a new assistant, median of {count}; "
    "bare: its facts read by SQLite alone"
)


@dataclass(frozen=True)
class TimedTurn:
    """Milliseconds of one turn, and of the bare commit before it."""

    whole: float
    bare: float
    parts: dict[str, float]


def turns(
    facts: Annotated[int, typer.Option(min=0, help="facts that the record holds before")] = 2000,
    said: Annotated[int, typer.Option("--turns", min=1, help="turns that are timed")] = 200,
    opening: Annotated[int, typer.Option(min=0, help="turns of the conversation that is opened; 0: none")] = 5000,
    folder: Annotated[Path | None, typer.Option(help="whose disk is measured", exists=True, file_okay=False)] = None,
    as_json: Annotated[bool, typer.Option("--json", help="one object a line")] = False,
) -> None:
    """Measure what a typed turn takes beside a bare commit, where it goes, and how a long talk opens."""
    if 0 < opening < EVERY:
        raise typer.BadParameter(f"--opening is 0 or at least {EVERY}: no snapshot is written before")
    with tempfile.TemporaryDirectory(dir=folder) as name:
        place = Path(name)
        held, timed = timed_turns(place, facts, said)
        bare = BareCost(COMMIT, median(one.bare for one in timed))
        figures = [*of_turns(held, timed, bare), *(of_opening(place, opening, bare) if opening else ())]
        sheet("turns", place, figures).print(as_json)


def of_turns(held: int, timed: Sequence[TimedTurn], bare: BareCost) -> Iterator[Figure]:
    method = SAID.format(facts=held)
    yield from _both("a bare commit", [one.bare for one in timed], method, bare)
    yield from _both("a turn", [one.whole for one in timed], method, bare)
    yield from _both("our own time", [one.whole - bare.value for one in timed], OWN, bare)
    for part in (*PARTS, REST):
        yield Figure(part, median(one.parts[part] for one in timed), "ms", PART, bare)


def timed_turns(place: Path, facts: int, said: int) -> tuple[int, list[TimedTurn]]:
    """How many facts lay in the record before, and the turns of a shift on it."""
    database = open_database(place / "turns.db")
    if facts:
        LongTalk(database).fill(turns_with(facts))
    assistant, begun = Assistant(database), EVENING + timedelta(days=turns_with(facts))
    begin_shift(assistant, begun)
    held = _facts(database)
    with bare_record(place) as bare:
        moments = (begun + timedelta(minutes=number) for number in range(1, said + 1))
        lines = islice(cycle(ON_SHIFT), said)
        timed = [_timed(assistant, line, at, bare.commit() * 1000) for line, at in zip(lines, moments, strict=True)]
    database.close()
    return held, timed


def _timed(assistant: Assistant, line: str, at: datetime, bare: float) -> TimedTurn:
    with Stopwatch(PARTS) as watch:
        begun = time.perf_counter()
        say(assistant, line, at)
        whole = (time.perf_counter() - begun) * 1000
    parts = {part: watch.seconds[part] * 1000 for part in PARTS}
    return TimedTurn(whole, bare, parts | {REST: whole - sum(parts.values())})


def _both(name: str, times: list[float], method: str, bare: BareCost) -> Iterator[Figure]:
    for percent in (50, 95):
        yield Figure(f"{name}, p{percent}", percentile(times, percent), "ms", method, bare)


def _facts(database: Database) -> int:
    with database.read() as connection:
        return connection.execute(select(func.count()).select_from(tables.fact)).scalar_one()


def of_opening(place: Path, turns: int, commit: BareCost) -> Iterator[Figure]:
    """Opened from all facts, from a snapshot that a turn has just written, and from one as old as one gets."""
    database = open_database(place / "opening.db")
    LongTalk(database).fill(turns)
    read = BareCost(READ, _ms(lambda: _read_alone(place / "opening.db")))
    method = OPENED.format(turns=turns, count=OPENINGS)
    yield Figure("opened, no snapshot", _opened(database)[0], "ms", method, read)
    yield Figure("a turn that writes one", _snapshot_ms(database, turns), "ms", WROTE, commit)
    yield Figure("opened, snapshot just written", _opened(database)[0], "ms", method, read)
    LongTalk(database).fill(EVERY - 1, turns, said=1)
    spent, state = _opened(database)
    yield Figure(f"opened, {EVERY - 1} turns after it", spent, "ms", method, read)
    _check(database, state)
    database.close()


def _snapshot_ms(database: Database, turns: int) -> float:
    """The time of a turn with which a snapshot is due."""
    assistant, at = Assistant(database), EVENING + timedelta(days=turns // len(evening()) + 1)
    assistant.state(TALK)
    return _ms(lambda: say(assistant, "status", at))


def _opened(database: Database) -> tuple[float, ConversationState]:
    """Milliseconds, median of some openings, and the state that each of them found."""
    found: list[ConversationState] = []
    spent = median(_ms(lambda: found.append(Assistant(database).state(TALK))) for _ in range(OPENINGS))
    return spent, found[0]


def _check(database: Database, state: ConversationState) -> None:
    """What a snapshot opens stands where all the facts do; DatabaseError otherwise."""
    with database.begin() as connection:
        if not connection.execute(tables.snapshot.delete()).rowcount:
            raise DatabaseError("no snapshot was written: what was opened was folded from all the facts")
    if Assistant(database).state(TALK) != state:
        raise DatabaseError("what the snapshot opened is another state than that of all the facts")


def _read_alone(file: Path) -> None:
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("SELECT body FROM fact ORDER BY turn, ordinal").fetchall()


def _ms(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return (time.perf_counter() - begun) * 1000
