"""Kills a ringing process around due times, again and again: ``python -m tests.reminders.kill_rounds --rounds 200``.

Every reminder must have rung exactly once in the history and be at least once on the wire.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from sqlalchemy import func, select

from engine.database import Database, open_database
from engine.history.store import tables
from engine.reminders.local_time import LocalTime
from engine.reminders.reminder import Remind
from tests.helpers.process import ROOT, python, run_lines
from tests.helpers.record import where
from tests.helpers.reminding import CHICAGO, apply

RINGER = str(ROOT / "tests/helpers/ringer.py")
SPAN = 0.4
EACH = 12


@dataclass(frozen=True)
class Tally:
    """What came of all rounds. ``partly``: kills that came when some but not all reminders of the round had rung."""

    set: int
    rung: dict[str, int]
    sent: Counter[str]
    killed: int
    partly: int


def kill_rounds(folder: Path, rounds: int, seed: int) -> Tally:
    """Each round sets reminders due within a moment and kills the process that rings them at a random time."""
    chance, place, wire = Random(seed), where(folder / "record.db"), folder / "wire"
    wire.touch()
    killed = partly = 0
    for number in range(rounds):
        before = _set(place, number, chance)
        command = python(RINGER, place, str(wire))
        killed += run_lines(command, [], kill_after=1, pause=chance.uniform(0, SPAN)).returncode == -9
        partly += 0 < _rung(place) - before < EACH
    run_lines(python(RINGER, place, str(wire), "2.5"), [])
    database = open_database(place)
    tally = Tally(rounds * EACH, _count(database), _sent(wire), killed, partly)
    database.close()
    return tally


def _set(place: str, number: int, chance: Random) -> int:
    """Set this round's reminders, due while the process starts and after, a third of them to be said once; how many
    rang before."""
    database = open_database(place)
    before = sum(_count(database).values())
    start = datetime.now(UTC) + timedelta(seconds=0.5)
    for one in range(EACH):
        due = LocalTime.of(start + timedelta(seconds=chance.uniform(0, SPAN)), CHICAGO)
        wanted = Remind(f"{number}/{one}", due, elapsed=True, once=one % 3 == 0)
        apply(database, wanted, conversation=f"c{number}-{one % 4}", at=start)
    database.close()
    return before


def _rung(place: str) -> int:
    database = open_database(place)
    found = sum(_count(database).values())
    database.close()
    return found


def _count(database: Database) -> dict[str, int]:
    """Rings by reminder name."""
    rings = select(tables.reminder.c.name, func.count()).join(tables.ring).group_by(tables.reminder.c.name)
    with database.read() as connection:
        return {row[0]: row[1] for row in connection.execute(rings)}


def _sent(wire: Path) -> Counter[str]:
    """How often each reminder is on the wire; a line that the kill cut short was never sent."""
    sent: Counter[str] = Counter()
    for line in wire.read_text(encoding="utf-8").splitlines():
        try:
            sent.update(json.loads(line)["due"])
        except json.JSONDecodeError:
            continue
    return sent


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rounds", type=int, default=200)
    asked.add_argument("--seed", type=int, default=20270421)
    given = asked.parse_args()
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        tally = kill_rounds(Path(folder), given.rounds, given.seed)
    print(f"{tally.killed} kills, {tally.partly} of them between two rings, {tally.set} reminders")
    print(
        f"rung once: {sum(count == 1 for count in tally.rung.values())}, more: {sum(tally.rung.values()) - tally.set}"
    )
    print(f"on the wire: {len(tally.sent)}, sent again: {sum(tally.sent.values()) - len(tally.sent)}")
    print(f"{time.monotonic() - began:.0f} s")
    right = len(tally.rung) == len(tally.sent) == tally.set and max(tally.rung.values()) == 1
    raise SystemExit(0 if right else 1)


if __name__ == "__main__":
    main()
