"""The whole assistant on standard input, killed and told everything again: the same history and the same answers."""

from __future__ import annotations

from pathlib import Path
from random import Random

from sqlalchemy import select

from engine.database import open_database
from engine.history import tables
from engine.history.journal import Journal
from tests.helpers.process import python, run_lines, run_until_done

SAID = """set up
two
thirty inches
zero to thirty by one
skip
five pounds an acre
ten pounds an acre
eight point seven one two pounds an acre
five miles an hour
three hundred feet
scale
zero
one gram
test run
row one twelve, row two twelve
forty one seconds
row one sixty eight grams
row two seventy five grams
scratch that
row two seventy grams
status""".splitlines()


def talk(place: Path) -> list[str]:
    return python("-m", "bot.cli", "talk", "--db", str(place), "--session", "evening", "--json")


def history(place: Path) -> list[tuple[object, ...]]:
    database = open_database(place)
    with database.read() as connection:
        conversations = list(connection.execute(select(tables.conversation.c.id)).scalars())
    turns = [turn for name in conversations for turn in Journal(database).turns(name)]
    database.close()
    return [(turn.conversation, turn.seq, turn.utterance_id, turn.heard, turn.reply, turn.facts) for turn in turns]


def test_the_assistant_killed_anywhere_and_told_everything_again(tmp_path: Path) -> None:
    calm = run_lines(talk(tmp_path / "calm.db"), SAID)
    assert (calm.returncode, len(calm.lines)) == (0, len(SAID)), calm.errors
    last, hits = run_until_done(talk(tmp_path / "killed.db"), SAID, Random(11), kills=3)
    assert (last.returncode, hits) == (0, 3), last.errors
    assert history(tmp_path / "killed.db") == history(tmp_path / "calm.db")
    assert len(history(tmp_path / "calm.db")) == len(SAID)
