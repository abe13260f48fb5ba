"""Whether a record agrees with itself: what stands in its tables beside the facts must be what the facts say.

Beside the facts stand the number of each turn, slot and row of each fact by which rows are found, the scripts that
dialogs rest on, the snapshots from which conversations are opened, the reminders that still ask, and how often each
rang. The first thing that differs is named.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, Row, Table, func, select

from engine.database import Database
from engine.errors import UnreadableFact
from engine.history.copies import digest
from engine.history.store import scan, snapshot, tables
from engine.history.store.journal import StoredTurn, read_turns
from engine.history.store.turn_facts import facts_of
from engine.reminders.local_time import LocalTime
from engine.reminders.reminder import OPEN
from engine.shift.look_changes import LOOK, wanted_look
from engine.trouble import damage


@dataclass(frozen=True)
class Audit:
    """What was looked through; ``difference`` is the first one in a sentence, None where everything agrees."""

    conversations: int
    turns: int
    facts: int
    difference: str | None


def audit(database: Database) -> Audit:
    """Look through the whole record as it is at one moment; raises DatabaseError where it cannot be read."""
    with database.read() as connection:
        talks, turns, facts = (_count(connection, one) for one in (tables.conversation, tables.turn, tables.fact))
        return Audit(talks, turns, facts, difference=next(_differences(connection), None))


def _count(connection: Connection, table: Table) -> int:
    return connection.execute(select(func.count()).select_from(table)).scalar_one()


def _differences(connection: Connection) -> Iterator[str]:
    yield from damage(connection)
    yield from _scripts(connection)
    yield from _columns(connection)
    for name in digest.conversations(connection):
        turns = tuple(read_turns(connection, name))
        yield from _turns(name, turns)
        yield from _snapshot(connection, name, turns)
        yield from _reminder(connection, name, turns)
    yield from _rings(connection)
    yield from _documents(connection)


def _scripts(connection: Connection) -> Iterator[str]:
    for row in connection.execute(select(tables.script)):
        if hashlib.sha256(row.source.encode()).hexdigest() != row.hash:
            yield f"the script {row.hash[:12]} of {row.name} is not the text of that checksum"


def _documents(connection: Connection) -> Iterator[str]:
    """Every document is what it was, and every one that a fact names is there."""
    for digest_there in scan.damaged(connection):
        yield f"the document {digest_there[:12]} is not the content of that checksum"
    there = set(connection.execute(select(tables.document.c.sha256)).scalars())
    kinds = select(tables.fact.c.body).where(tables.fact.c.kind.in_(("attached", "documented")))
    for body in connection.execute(kinds).scalars():
        if body["document"]["sha256"] not in there:
            yield f"the document {body['document']['sha256'][:12]} is missing"


def _columns(connection: Connection) -> Iterator[str]:
    """What stands beside the body of a fact, and that no fact of a turn is missing."""
    fact, turn = tables.fact.c, tables.turn.c
    query = select(turn.conversation, turn.seq, tables.fact).join_from(tables.turn, tables.fact)
    found = connection.execute(query.order_by(fact.turn, fact.ordinal), execution_options={"yield_per": 500})
    for _, rows in groupby(found, key=lambda row: row.turn):
        for place, row in enumerate(rows):
            where = f"turn {row.seq} of {row.conversation}"
            if row.ordinal != place:
                yield f"{where}: fact {place + 1} is missing"
            for name in ("kind", "slot", "row"):
                beside, inside = getattr(row, name), row.body.get(name)
                if beside != inside:
                    yield f"{where}: fact {place + 1} says {name} {inside!r}, beside it stands {beside!r}"


def _turns(name: str, turns: Iterable[StoredTurn]) -> Iterator[str]:
    for place, turn in enumerate(turns, 1):
        if turn.seq != place:
            yield f"turn {place} of {name} is missing"
            return
        try:
            facts_of(turn)
        except UnreadableFact as error:
            yield str(error)


def _snapshot(connection: Connection, name: str, turns: tuple[StoredTurn, ...]) -> Iterator[str]:
    """A snapshot that would be believed is the fold of the facts before it."""
    found = snapshot.find(connection, name)
    if found is None:
        return
    try:
        facts = [fact for turn in turns[: found.seq] for fact in facts_of(turn)]
    except UnreadableFact:
        return
    if digest.after(found.beginning, facts) != found.state:
        yield f"the snapshot of {name} at turn {found.seq} is not what its facts come to"


def _reminder(connection: Connection, name: str, turns: tuple[StoredTurn, ...]) -> Iterator[str]:
    """The look that the facts want is the one that asks."""
    due = wanted_look(digest.state_of(turns) or digest.beginning("en"))
    mine = select(tables.reminder).where(tables.reminder.c.conversation == name, tables.reminder.c.name == LOOK)
    rows = connection.execute(mine).all()
    asking = [row for row in rows if row.state in OPEN]
    if due is None and asking:
        yield f"{name}: a look due at {asking[0].due_at:%Y-%m-%d %H:%M} UTC asks, and the facts want none"
    if due is not None and not asking and not any(_is_over(row, due, turns[-1].said_at) for row in rows):
        yield f"{name}: the facts want a look at {due:%Y-%m-%d %H:%M} UTC, and none asks"
    if len(asking) > 1:
        yield f"{name}: {len(asking)} looks ask at once"


def _is_over(row: Row[Any], due: datetime, said_at: datetime) -> bool:
    """Whether a look that is wanted need not ask: it rang at its time before, or its person was forgotten since."""
    same = LocalTime(datetime.fromisoformat(row.local), row.zone, row.second).instant == due
    return (same and row.rung > 0) or (row.settled_at is not None and row.settled_at > said_at)


def _rings(connection: Connection) -> Iterator[str]:
    reminder, ring = tables.reminder.c, tables.ring.c
    query = select(reminder.conversation, reminder.rung, func.count(ring.id).label("noted"))
    joined = query.join_from(tables.reminder, tables.ring, isouter=True).group_by(reminder.id)
    for row in connection.execute(joined.order_by(reminder.id)):
        if row.rung != row.noted:
            yield f"{row.conversation}: a look rang {row.rung} times, and {row.noted} are noted"
