"""A record with something in every table, and what is in one."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import insert, select, update

from engine.crew.people import People
from engine.crew.roles import PersonRole
from engine.database import Database
from engine.document import Media
from engine.history.store import scan, tables
from engine.queues.inbox import Gone, Inbox, Incoming
from engine.queues.outbox import Outbox, Outgoing
from engine.queues.outbox_message import TextMessage
from tests.helpers.planting import plant

LATER = datetime(2026, 4, 22, 9, tzinfo=UTC)
CHAT = "telegram:7"


def fill(database: Database) -> None:
    """A shift under way, a farm with people, messages and updates that wait, a reminder that rang and still asks."""
    plant(database, [(40, "row three stopped"), (60, "five acres done")], conversation=CHAT)
    people = People(database)
    people.join(CHAT, people.invite("north", PersonRole.OWNER, LATER + timedelta(days=2), by=CHAT), LATER, "José \0 Ñ")
    people.join(CHAT, "no such code", LATER)
    Inbox(database).put([Incoming(2**40, CHAT, 2**41, {"text": "¿todo bien?"}, LATER)])
    Gone(database).add("telegram:8", LATER)
    outbox, first = Outbox(database), Outgoing("k1", CHAT, TextMessage(text="1\u2028"), LATER)
    with database.begin() as connection:
        scan.put(connection, scan.Scan(b"%PDF-1.4 ... %%EOF", Media.PDF))
        ring = {"reminder": 1, "number": 1, "audience": "operator", "message": "ring/1/1"}
        connection.execute(insert(tables.ring).values(**ring, due_at=LATER, rung_at=LATER))
        connection.execute(update(tables.reminder).where(tables.reminder.c.id == 1).values(rung=1))
        connection.execute(insert(tables.relief).values(reminder=1, answered_at=LATER))
        connection.execute(insert(tables.news).values(chat=CHAT, runs=True, shifts=False, quiet_from="21:00"))
        speaker = {"talk": CHAT, "chat": CHAT, "name": "Maria"}
        connection.execute(insert(tables.speaker).values(**speaker, since=LATER))
        rows = [{"key": f"k{n}", "conversation": CHAT, "body": {"text": f"{n}\u2028"}, "due_at": LATER} for n in (1, 2)]
        waits = [row | {"state": "pending", "attempts": n} for n, row in enumerate(rows)]
        connection.execute(insert(tables.outbox), waits)
    assert outbox.claim("a worker", LATER, timedelta(hours=1))[0] == first


def content(database: Database) -> dict[str, list[dict[str, Any]]]:
    """Every row of every table that travels and the format, leases left out."""
    with database.read() as connection:
        found = {
            table.name: [dict(row) for row in connection.execute(select(table)).mappings()]
            for table in tables.metadata.sorted_tables
            if table not in (tables.heartbeat, tables.snapshot, tables.account, tables.hold)
        }
    for row in found["outbox"]:
        row |= {"worker": None, "leased_until": None}
    return {name: sorted(rows, key=repr) for name, rows in found.items()}
