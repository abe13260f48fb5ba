"""A whole calibration killed again and again: in the end the record is that of an undisturbed evening.

``ROWHAND_KILLS`` is the number of kills, ``ROWHAND_SEED`` where they fall.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from random import Random

from sqlalchemy import select

from engine.database import open_database
from engine.history.store import tables
from engine.history.store.journal import Journal
from tests.helpers.chat_bot import timeless
from tests.helpers.process import Outcome, python, run_lines, run_until_done
from tests.helpers.talking import beginnings

KILLS = int(os.environ.get("ROWHAND_KILLS", "4"))
SEED = int(os.environ.get("ROWHAND_SEED", "3"))
SAID = [
    *beginnings()["prepared"],
    *beginnings()["catching"],
    "thirty five seconds",
    "no",
    *beginnings()["caught"],
    "row eight was seventy eight",
    "the first",
    "scratch that",
    "español",
    "surco uno setenta y nueve, surco dos ochenta y uno",
    "surco nueve ochenta",
    "borra eso",
    "english",
    "correct row one",
    "seventy eight",
    "set up",
    "no",
    "cancel",
    "yes",
    "status",
]


def talk(place: Path) -> list[str]:
    return python("-m", "bot.cli", "talk", "--db", str(place), "--session", "evening", "--json")


def history(place: Path) -> list[tuple[object, ...]]:
    database = open_database(place)
    try:
        with database.read() as connection:
            conversations = list(connection.execute(select(tables.conversation.c.id)).scalars())
        turns = [turn for name in conversations for turn in Journal(database).turns(name)]
    finally:
        database.close()
    return [
        (turn.conversation, turn.seq, turn.utterance_id, turn.heard, turn.reply, tuple(map(timeless, turn.facts)))
        for turn in turns
    ]


def answers(outcome: Outcome) -> list[tuple[str, str]]:
    return [(turn["heard"], turn["reply"]) for turn in map(json.loads, outcome.lines)]


def test_a_killed_evening_leaves_the_record_of_an_undisturbed_one(tmp_path: Path) -> None:
    calm = run_lines(talk(tmp_path / "calm.db"), SAID)
    assert (calm.returncode, len(calm.lines)) == (0, len(SAID)), calm.errors
    last, hits = run_until_done(talk(tmp_path / "killed.db"), SAID, Random(SEED), kills=KILLS)
    assert last.returncode == 0, last.errors
    assert hits == KILLS
    assert history(tmp_path / "killed.db") == history(tmp_path / "calm.db")
    assert answers(last) == answers(calm)
    assert len(history(tmp_path / "calm.db")) == len(SAID)
