"""The whole demo on the real ears, and its program as a person starts it."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from inspect import signature
from pathlib import Path

import pytest
from rich.console import Console

from demo.__main__ import EarsOption, all_passed, demo, play
from demo.evening import DemoLine, load, shown
from demo.play import FOLDER
from demo.worker import CONVERSATION
from engine.database import open_database
from engine.dialog.facts.events import Kept, Misheard
from engine.facts import read_fact
from engine.history.store.journal import Journal
from engine.history.store.segments import Ending

ROOT = Path(__file__).parents[2]
COMMAND = [sys.executable, "-m", "demo", "--text", "--fast"]


def runs(lines: tuple[DemoLine, ...]) -> Iterator[dict[str, str]]:
    """What the script says of each run: the last word on each catch."""
    found: dict[str, str] = {}
    for line in lines:
        if "course_time" in line.keeps and found:
            yield found
            found = {}
        found |= {place: value for place, value in line.keeps.items() if place.startswith("catch_mass")}
    yield found


MOST_QUESTIONS = 3
"""Times in the evening that the operator may be asked about what he said."""


def test_every_value_spoken_is_the_value_in_the_record(tmp_path: Path) -> None:
    console = Console(file=io.StringIO(), width=110)
    record = play(console, tmp_path / "record.db", "en", EarsOption.PANEL.value, voice=True, pause_s=0)
    kept = [{f"catch_mass {row}": shown(value) for row, value in run.rows["catch_mass"].items()} for run in record.runs]
    assert kept == list(runs(load()))
    assert record.ending is Ending.FINISHED
    assert all_passed(record)
    shown_text = console.file.getvalue()
    assert "exactly the same state" in shown_text
    turns = Journal(open_database(tmp_path / "record.db")).turns(CONVERSATION)
    assert all(turn.spoken for turn in turns)
    told = [fact for turn in turns for fact in map(read_fact, turn.facts)]
    assert not [fact for fact in told if isinstance(fact, Misheard)]
    assert 0 < len(turns) - len(load()) <= MOST_QUESTIONS
    facts = [fact for fact in told if isinstance(fact, Kept)]
    said = {place for line in load() for place in line.keeps}
    assert {fact.slot if fact.row is None else f"{fact.slot} {fact.row}" for fact in facts} == said
    assert FOLDER.is_dir()


def start(*options: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*COMMAND, *options], cwd=ROOT, capture_output=True, text=True, timeout=120, check=False)


@pytest.mark.parametrize("language", ["en", pytest.param("es", marks=pytest.mark.campaign)])
def test_the_typed_evening_ends_on_target(language: str) -> None:
    done = start("--language", language)
    assert (done.returncode, done.stderr) == (0, "")
    assert {"en": "Every row on target.", "es": "Todos los surcos en la meta."}[language] in done.stdout


def test_the_demo_hears_with_both_models_unless_told_otherwise() -> None:
    assert signature(demo).parameters["engine"].default is EarsOption.PANEL


def test_a_wrong_option_is_one_sentence() -> None:
    done = start("--engine", "trumpet")
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_ctrl_c_ends_clean_and_leaves_no_process() -> None:
    process = subprocess.Popen(
        [*COMMAND[:-1]],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    assert process.stdout is not None
    assert any("thirty inches" in line for line in process.stdout)
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    workers = children.read_text().split() if children.exists() else []
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "Traceback" not in errors
    end = time.monotonic() + 60
    while alive := [worker for worker in workers if Path(f"/proc/{worker}").exists()]:
        assert time.monotonic() < end, alive
        time.sleep(0.05)
