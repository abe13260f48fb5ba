"""Appends one turn per line of standard input to a journal: ``appender.py DATABASE CONVERSATION [race]``.

A line is "utterance-id number". The fact of a turn rests on the facts before it (a running total), so a lost, doubled
or reordered turn shows in every later one. In a race each line tries once for the place of its own line number.
"""

from __future__ import annotations

import sys

from engine.database import open_database
from engine.errors import ConflictError
from engine.history.store.journal import Journal
from tests.helpers.turns import new_turn


def append(journal: Journal, conversation: str, name: str, number: int) -> str:
    known = journal.turn(name)
    if known is not None:
        return f"{known.seq} again"
    turns = journal.turns(conversation)
    total = int(str(turns[-1].facts[-1]["total"])) if turns else 0
    facts = ({"kind": "kept", "slot": "catch", "row": 1, "value": number}, {"kind": "sum", "total": total + number})
    turn = new_turn(len(turns) + 1, *facts, conversation=conversation, name=name, sends=2, text=str(number))
    return f"{journal.append(turn).seq} {total + number}"


def race(journal: Journal, conversation: str, name: str, place: int) -> str:
    try:
        return str(journal.append(new_turn(place, {"kind": "note"}, conversation=conversation, name=name)).seq)
    except ConflictError:
        return "conflict"


def main() -> None:
    path, conversation, *mode = sys.argv[1:]
    journal = Journal(open_database(path))
    for line in sys.stdin:
        name, number = line.split()
        print((race if mode else append)(journal, conversation, name, int(number)), flush=True)


if __name__ == "__main__":
    main()
