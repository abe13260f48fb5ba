"""Real processes, really killed: the history is that of an undisturbed run."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from random import Random

from engine.database import open_database
from engine.history.store.journal import Journal, StoredTurn
from engine.queues.outbox import Outbox
from tests.helpers.process import ROOT, python, run_lines, run_until_done
from tests.helpers.record import where

APPENDER = str(ROOT / "tests/helpers/appender.py")
LINES = [f"u{number} {number * 7}" for number in range(1, 61)]


def history(place: str) -> tuple[tuple[StoredTurn, ...], tuple[str, ...]]:
    database = open_database(place)
    turns = Journal(database).turns("c1")
    keys = tuple(waiting.outgoing.key for waiting in Outbox(database).pending("c1"))
    database.close()
    return turns, keys


def test_killed_anywhere_and_told_everything_again(tmp_path: Path) -> None:
    calm = run_lines(python(APPENDER, where(tmp_path / "calm.db"), "c1"), LINES)
    assert (calm.returncode, len(calm.lines)) == (0, len(LINES)), calm.errors
    command = python(APPENDER, where(tmp_path / "killed.db"), "c1")
    last, hits = run_until_done(command, LINES, Random(20260421), kills=4)
    assert (last.returncode, len(last.lines)) == (0, len(LINES)), last.errors
    assert hits >= 3
    assert history(where(tmp_path / "killed.db")) == history(where(tmp_path / "calm.db"))


def test_killed_while_the_record_is_made(tmp_path: Path) -> None:
    command = python(APPENDER, where(tmp_path / "new.db"), "c1")
    started = [run_lines(command, LINES[:1], kill_after=0, pause=pause) for pause in (0.3, 0.5, 0.6, 0.7)]
    assert started[0].returncode == -9
    assert run_lines(command, LINES[:1]).returncode == 0
    assert len(history(where(tmp_path / "new.db"))[0]) == 1


def test_two_processes_never_share_a_place(tmp_path: Path) -> None:
    command = python(APPENDER, where(tmp_path / "shared.db"), "c1", "race")
    with ThreadPoolExecutor() as pool:
        tries = [
            pool.submit(run_lines, command, [f"p{who}-{place} {place}" for place in range(1, 201)]) for who in (1, 2)
        ]
        first, second = (one.result() for one in tries)
    assert (first.returncode, second.returncode) == (0, 0), first.errors + second.errors
    for place, answers in enumerate(zip(first.lines, second.lines, strict=True), 1):
        assert sorted(answers) == sorted(("conflict", str(place)))
    assert [turn.seq for turn in history(where(tmp_path / "shared.db"))[0]] == list(range(1, 201))
