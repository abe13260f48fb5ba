"""How long a long conversation takes to open: ``python -m tests.bench_opening --turns 100000``.

One conversation holds as many nights as it takes, each with a set-up, a test run and a shift: those of one night that
was really said, a day later each time, in one field of forty. It is opened without a snapshot, with one that a turn has
just written, and with one behind which as many turns lie as ever will.
"""

from __future__ import annotations

import argparse
import json
import re
import tempfile
import time
from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import islice
from pathlib import Path

from sqlalchemy import func, insert, select

from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.dialog.facts.state import ConversationState
from engine.history.store import tables
from engine.history.store.journal import Fact, StoredTurn
from engine.history.store.snapshot import EVERY
from engine.messages import Utterance
from tests.helpers.planting import night

TALK, FIELDS, AT_ONCE = "c", 40, 2000
INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?Z")


def fill(database: Database, turns: int, before: int = 0, said: int = 0) -> None:
    """Write so many turns behind those ``before`` and those that were ``said``, many in one transaction."""
    numbers, length = iter(range(before, before + turns)), len(night())
    while some := list(islice(numbers, AT_ONCE)):
        with database.begin() as connection:
            if some[0] == 0:
                first = {"id": TALK, "created": night()[0].said_at}
                connection.execute(insert(tables.conversation).values(first))
            rows = [(number + said + 1, night()[number % length], number // length) for number in some]
            connection.execute(insert(tables.turn), [_turn(*row) for row in rows])
            connection.execute(insert(tables.fact), [fact for row in rows for fact in _facts(*row)])


def _turn(seq: int, turn: StoredTurn, nights: int) -> dict[str, object]:
    return {
        "id": seq,
        "conversation": TALK,
        "seq": seq,
        "utterance_id": f"{TALK}:{seq}",
        "said_at": turn.said_at + timedelta(days=nights),
        "language": turn.language,
        "heard": turn.heard,
        "spoken": turn.spoken,
        "confidence": turn.confidence,
        "reply": turn.reply.model_dump(mode="json"),
    }


def _facts(seq: int, turn: StoredTurn, nights: int) -> Iterator[dict[str, object]]:
    for ordinal, fact in enumerate(turn.facts):
        about = {"kind": fact["kind"], "slot": fact.get("slot"), "row": fact.get("row")}
        yield {"turn": seq, "ordinal": ordinal, "body": _later(fact, nights), **about}


def _later(fact: Fact, nights: int) -> Fact:
    """A fact as it would have been so many nights later, in the field of that night."""
    text = json.dumps(fact).replace("North field", f"field {nights % FIELDS}")
    moved: Fact = json.loads(INSTANT.sub(lambda found: _moved(found[0], nights), text))
    return moved


def _moved(instant: str, nights: int) -> str:
    moment = datetime.fromisoformat(instant) + timedelta(days=nights)
    return moment.isoformat().replace("+00:00", "Z")


def timed(name: str, database: Database) -> ConversationState:
    assistant = Assistant(database)
    begun = time.perf_counter()
    state = assistant.state(TALK)
    print(f"{name:<44} {time.perf_counter() - begun:8.3f} s", flush=True)
    return state


def say(database: Database, seq: int) -> None:
    """One more utterance, after which a snapshot is due."""
    moment = night()[-1].said_at + timedelta(days=seq)
    assistant = Assistant(database)
    assistant.state(TALK)
    begun = time.perf_counter()
    assistant.hear(Utterance(id=f"said {seq}", conversation=TALK, text="status", language="en", said_at=moment))
    print(f"{'the turn that writes a snapshot':<44} {time.perf_counter() - begun:8.3f} s")


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--turns", type=int, default=10000)
    turns: int = options.parse_args().turns
    with tempfile.TemporaryDirectory() as name:
        place = Path(name) / "record.db"
        database = open_database(place)
        fill(database, turns)
        size = place.stat().st_size / 1e6
        print(f"{turns} turns, {turns // len(night())} nights, {size:.0f} MB")
        timed("no snapshot", database)
        say(database, turns + 1)
        timed("snapshot of the last turn", database)
        fill(database, EVERY - 1, turns, said=1)
        state = timed(f"{EVERY - 1} turns after the snapshot", database)
        with database.begin() as connection:
            length = connection.execute(select(func.length(tables.snapshot.c.body))).scalar_one()
            connection.execute(tables.snapshot.delete())
        same = timed("the same without it", database) == state
        print(f"snapshot of {length / 1e3:.0f} KB, state {'the same' if same else 'ANOTHER'}")
        database.close()


if __name__ == "__main__":
    main()
