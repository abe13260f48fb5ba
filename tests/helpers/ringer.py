"""Rings reminders against the real clock and sends them: ``ringer.py DATABASE WIRE [SECONDS]``.

What is sent is a line in the file WIRE. Ends when nothing is open and nothing waits, or after SECONDS.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from engine.database import Database, open_database
from engine.queues.outbox import Outbox, Outgoing
from engine.queues.outbox_message import TextMessage, words_of
from engine.reminders.reminder import ClockNotice, Relief, Ring
from engine.reminders.schedule import ReminderPolicy, Schedule

LEASE = timedelta(seconds=1)
ONCE = ReminderPolicy(again=timedelta(hours=1))


def body(said: Ring | Relief | ClockNotice) -> TextMessage:
    return TextMessage(text=json.dumps(_told(said)))


def _told(said: Ring | Relief | ClockNotice) -> dict[str, object]:
    match said:
        case Ring():
            return {"due": [item.reminder.name for item in said.items]}
        case Relief():
            return {"answered": said.reminder.name}
        case ClockNotice():
            return {"clock": said.change.kind}


def deliver(outbox: Outbox, worker: str, send: Callable[[Outgoing], None]) -> int:
    """Send what is due now; how many."""
    messages = outbox.claim(worker, datetime.now(UTC), LEASE, limit=100)
    for message in messages:
        send(message)
    if messages:
        outbox.mark_sent(*(message.key for message in messages))
    return len(messages)


def ring_all(database: Database, wire: Path, seconds: float) -> None:
    schedule, outbox = Schedule(database, ONCE), Outbox(database)
    worker, end = str(os.getpid()), time.monotonic() + seconds
    with wire.open("a", encoding="utf-8") as line:
        line.write("\n")  # a line that a kill cut short stays apart

        def send(message: Outgoing) -> None:
            line.write(json.dumps({"key": message.key, **json.loads(words_of(message.message))}) + "\n")
            line.flush()

        while time.monotonic() < end:
            schedule.tick(datetime.now(UTC), body)
            deliver(outbox, worker, send)
            time.sleep(0.002)


def main() -> None:
    place, wire, *seconds = sys.argv[1:]
    database = open_database(place)
    print("ready", flush=True)
    ring_all(database, Path(wire), float(seconds[0]) if seconds else 60.0)
    database.close()


if __name__ == "__main__":
    main()
