"""Hears one utterance per line of standard input on two planters of one farm: ``farm_talker.py DATABASE``.

A line is "planter|text". The same lines may be given again: what was heard is not heard twice.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime, timedelta

from engine.assistant import Assistant
from engine.database import insert_new, open_database
from engine.history.store.tables import conversation
from engine.messages import Utterance

BEGUN = datetime(2026, 4, 21, 22, tzinfo=UTC)


def main() -> None:
    database = open_database(sys.argv[1])
    rows = [{"id": f"x:{planter}", "farm": "north", "created": BEGUN} for planter in ("one", "two")]
    with database.begin() as connection:
        insert_new(connection, conversation, rows)
    assistant = Assistant(database)
    for number, line in enumerate(sys.stdin):
        planter, text = line.rstrip("\n").split("|")
        at, name = BEGUN + timedelta(minutes=number), f"u{number}"
        said = Utterance(id=name, conversation=f"x:{planter}", text=text, language="en", said_at=at)
        print(assistant.hear(said).reply.text.replace("\n", " "), flush=True)


if __name__ == "__main__":
    main()
