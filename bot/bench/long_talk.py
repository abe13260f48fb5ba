"""A long conversation: one evening that is really said, and the same again on later days in other fields."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import islice

from sqlalchemy import insert

from bot.bench.voice_operator import BEGINNING
from engine.assistant import Assistant
from engine.database import Database, open_database
from engine.history.store import tables
from engine.history.store.journal import Fact, Journal, StoredTurn
from engine.messages import Utterance

TALK, FIELD, FIELDS, AT_ONCE = "c", "North field", 40, 2000
INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?Z")
EVENING = datetime(2026, 4, 22, 0, 5, tzinfo=UTC)
ON_TARGET = ", ".join(["forty one seconds", *(f"row {row} seventy nine" for row in range(1, 9))])
CALIBRATED = (*BEGINNING, ON_TARGET, "enough")
SHIFT = ("shift", "four four seven", "skip", FIELD, "eighty acres", "skip", "all on", "all forty pounds",
         "fifty pounds", "skip", "five acres", "skip")  # fmt: skip
TOLD = ("all good", "row five stopped", "row five runs again", "ten acres done", "row seven is high, rest good",
        "scratch that", "lunch", "planting again", "row seven is high, rest good", "row seven runs again",
        "thirty acres done", "all fifteen pounds left", "end of shift", "done")  # fmt: skip
PAUSE = timedelta(minutes=20)
"""Between two reports of the evening."""


def say(assistant: Assistant, text: str, at: datetime, conversation: str = TALK) -> StoredTurn:
    """One typed line; a name of its own for each line and moment."""
    name = f"{conversation}:{at.isoformat()}:{text}"
    said = Utterance(id=name, conversation=conversation, text=text, language="en", said_at=at)
    return assistant.hear(said)


def begin_shift(assistant: Assistant, begun: datetime, conversation: str = TALK) -> None:
    """From nothing to a planter that plants, a second a line."""
    for number, text in enumerate((*CALIBRATED, *SHIFT)):
        say(assistant, text, begun + timedelta(seconds=number), conversation)


@cache
def evening() -> tuple[StoredTurn, ...]:
    """The turns of one whole evening, said once to the real assistant."""
    database = open_database(":memory:")
    assistant = Assistant(database)
    begin_shift(assistant, EVENING)
    for number, text in enumerate(TOLD, 1):
        say(assistant, text, EVENING + number * PAUSE)
    turns = Journal(database).turns(TALK)
    database.close()
    return turns


def turns_with(facts: int) -> int:
    """How many turns, whole evenings, hold at least so many facts."""
    each = sum(len(turn.facts) for turn in evening())
    return -(-facts // each) * len(evening())


@dataclass(frozen=True)
class LongTalk:
    """Turns as the evenings left them, written many in a transaction; ``said`` stand before them that were really said
    between the first ``before`` and these."""

    database: Database

    def fill(self, turns: int, before: int = 0, said: int = 0) -> None:
        numbers, length = iter(range(before, before + turns)), len(evening())
        while some := list(islice(numbers, AT_ONCE)):
            with self.database.begin() as connection:
                if some[0] == 0:
                    first = {"id": TALK, "created": evening()[0].said_at}
                    connection.execute(insert(tables.conversation).values(first))
                rows = [(number + said + 1, evening()[number % length], number // length) for number in some]
                connection.execute(insert(tables.turn), [_turn(*row) for row in rows])
                connection.execute(insert(tables.fact), [fact for row in rows for fact in _facts(*row)])


def _turn(seq: int, turn: StoredTurn, days: int) -> dict[str, object]:
    return {
        "id": seq,
        "conversation": TALK,
        "seq": seq,
        "utterance_id": f"{TALK}:{seq}",
        "said_at": turn.said_at + timedelta(days=days),
        "language": turn.language,
        "heard": turn.heard,
        "spoken": turn.spoken,
        "confidence": turn.confidence,
        "reply": turn.reply.model_dump(mode="json"),
    }


def _facts(seq: int, turn: StoredTurn, days: int) -> Iterator[dict[str, object]]:
    for ordinal, fact in enumerate(turn.facts):
        about = {"kind": fact["kind"], "slot": fact.get("slot"), "row": fact.get("row")}
        yield {"turn": seq, "ordinal": ordinal, "body": _later(fact, days), **about}


def _later(fact: Fact, days: int) -> Fact:
    """A fact as it would have been so many days later, in the field of that day."""
    text = json.dumps(fact).replace(FIELD, f"field {days % FIELDS}")
    moved: Fact = json.loads(INSTANT.sub(lambda found: _moved(found[0], days), text))
    return moved


def _moved(instant: str, days: int) -> str:
    moment = datetime.fromisoformat(instant) + timedelta(days=days)
    return moment.isoformat().replace("+00:00", "Z")
