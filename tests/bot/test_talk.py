"""``rowhand talk`` as a real process: what scripts rely on, and what goes wrong in one sentence."""

from __future__ import annotations

import io
import json
import re
import shutil
import signal
import sqlite3
import subprocess
import time
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy.exc import OperationalError

from bot.console import Talk, run
from engine.assistant import Assistant
from engine.database import open_database
from engine.errors import WorldError
from engine.history.store.journal import StoredTurn
from engine.messages import Utterance
from tests.helpers.process import ROOT, Outcome, python, run_lines
from tests.helpers.talking import beginnings, library

TALK = python("-m", "bot.cli", "talk")


def talk(database: Path, *lines: str, options: tuple[str, ...] = (), cold: bool = False) -> Outcome:
    return run_lines([*TALK, "--db", str(database), *options], lines, cold=cold)


def test_json_has_one_object_a_line(tmp_path: Path) -> None:
    lines = [*beginnings()["prepared"], *beginnings()["catching"], "row two eighty one", "row twelve eighty"]
    outcome = talk(tmp_path / "a.db", *lines, options=("--json",), cold=True)
    turns = [json.loads(line) for line in outcome.lines]
    assert (outcome.returncode, outcome.errors) == (0, "")
    assert [turn["heard"] for turn in turns] == lines
    assert all(set(turn) == {"heard", "reply", "facts", "expects"} for turn in turns)
    assert all(isinstance(fact["kind"], str) for turn in turns for fact in turn["facts"])
    assert turns[-2]["facts"][0]["value"] == {"value": 81.0, "unit": "g"}
    assert turns[-1]["reply"].startswith("There is no row 12")
    expects = turns[-1]["expects"]
    assert expects["asking"] == "slot"
    assert (expects["slots"][0]["slot"], expects["slots"][0]["next_row"]) == ("catch_mass", 1)
    assert expects["slots"][0]["rows"] == [1, 3, 4, 5, 6, 7, 8]
    assert expects["slots"][1]["slot"] == "course_time"


def test_a_question_expects_one_of_its_candidates(tmp_path: Path) -> None:
    lines = [*beginnings()["wide"], "row twenty two forty"]
    outcome = talk(tmp_path / "a.db", *lines, options=("--json",))
    expects = json.loads(outcome.lines[-1])["expects"]
    assert expects["asking"] == "choose"
    assert expects["candidates"] == ["row 20, 240 g", "row 22, 40 g"]


def test_a_pipe_reads_to_its_end_and_blank_lines_are_nothing(tmp_path: Path) -> None:
    outcome = talk(tmp_path / "a.db", "", "set up", "   ", "eight", "[red]nonsense[/red] :smile:")
    assert (outcome.returncode, outcome.errors) == (0, "")
    said = [line for line in outcome.lines if line.startswith("> ")]
    assert said == ["> set up", "> eight", "> [red]nonsense[/red] :smile:"]
    assert "How far apart are the rows?" in outcome.lines


def test_a_language_to_begin_with_and_the_same_session_again(tmp_path: Path) -> None:
    lines = ["preparar", "ocho", "treinta pulgadas"]
    options = ("--language", "es", "--session", "s", "--json")
    first = talk(tmp_path / "a.db", *lines, options=options)
    again = talk(tmp_path / "a.db", *lines, options=options)
    assert json.loads(first.lines[0])["reply"].endswith("¿Cuántos surcos?")
    assert [_without_expects(line) for line in again.lines] == [_without_expects(line) for line in first.lines]


def _without_expects(line: str) -> dict[str, object]:
    turn: dict[str, object] = json.loads(line)
    return {name: turn[name] for name in ("heard", "reply", "facts")}


def test_another_session_goes_on_where_the_last_one_stopped(tmp_path: Path) -> None:
    talk(tmp_path / "a.db", "set up", "eight")
    outcome = talk(tmp_path / "a.db", "thirty inches", options=("--json",))
    assert json.loads(outcome.lines[0])["reply"].startswith("Row spacing: 30 in.")


def test_a_file_that_is_no_database_is_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "notes.db"
    path.write_text("these are notes and nothing else, long enough to be looked at " * 20)
    outcome = talk(path, "set up")
    assert outcome.returncode == 5
    assert not outcome.lines
    assert "notes.db" in outcome.errors
    assert "Traceback" not in outcome.errors
    assert len(outcome.errors.strip().splitlines()) == 1
    assert path.read_text().startswith("these are notes")


def test_a_folder_in_the_place_of_the_database_is_one_sentence(tmp_path: Path) -> None:
    outcome = talk(tmp_path, "set up")
    assert outcome.returncode == 5
    assert "Traceback" not in outcome.errors
    assert len(outcome.errors.strip().splitlines()) == 1


def test_a_database_of_a_newer_version_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    assert talk(path, "set up").returncode == 0
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE rowhand_format SET version = 9999")
    before = path.read_bytes()
    outcome = talk(path, "eight")
    assert outcome.returncode == 5
    assert "newer" in outcome.errors
    assert len(outcome.errors.strip().splitlines()) == 1
    assert path.read_bytes() == before


def test_a_broken_dialog_is_told_with_file_and_place(tmp_path: Path) -> None:
    shutil.copytree(ROOT / "dialogs", tmp_path, dirs_exist_ok=True)
    sound = run_lines(python("-m", "bot.cli", "dialogs", "check", str(tmp_path)), [])
    assert (sound.returncode, sound.errors) == (0, "")
    broken = tmp_path / "set-up.yaml"
    text = broken.read_text(encoding="utf-8")
    broken.write_text(text.replace("  - ask: spacing\n", "  - ask: spacin\n"), encoding="utf-8")
    words = tmp_path / "en" / "vocabulary.yaml"
    words.write_text(
        words.read_text(encoding="utf-8").replace("  resume: [resume,", "  resume: [undo,"), encoding="utf-8"
    )
    outcome = run_lines(python("-m", "bot.cli", "dialogs", "check", str(tmp_path)), [])
    assert outcome.returncode == 4
    assert "set-up.yaml" in outcome.errors
    assert "there is no slot spacin" in outcome.errors
    assert re.search(
        r"en/vocabulary\.yaml: line \d+, commands\.resume\.0: 'undo' already means commands\.scratch", outcome.errors
    )
    assert "Traceback" not in outcome.errors


def test_an_interrupt_ends_quietly_and_keeps_what_was_said(tmp_path: Path) -> None:
    path = tmp_path / "a.db"
    command = [*TALK, "--db", str(path), "--json"]
    process = subprocess.Popen(
        command, cwd=ROOT, encoding="utf-8", bufsize=1,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write("set up\n")
    process.stdin.flush()
    assert json.loads(process.stdout.readline())["heard"] == "set up"
    time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "Traceback" not in errors
    assert "Row spacing" in talk(path, "eight", "thirty inches").lines[-2]


class Terminal(io.StringIO):
    """Lines typed at a terminal."""

    def isatty(self) -> bool:
        return True


class Failing(Assistant):
    """An assistant whose disk is full for the second utterance."""

    heard = 0

    def hear(self, utterance: Utterance, deliver: Sequence[str] = ()) -> StoredTurn:
        self.heard += 1
        if self.heard == 2:
            raise WorldError("the disk is full") from OperationalError("", {}, OSError())
        return super().hear(utterance, deliver)


def failing(tmp_path: Path) -> Talk:
    return Talk(Failing(open_database(str(tmp_path / "a.db")), library=library()))


def test_at_a_terminal_a_full_disk_is_an_answer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(failing(tmp_path), as_json=False, source=Terminal("set up\neight\neight\n"))
    shown = capsys.readouterr().out
    assert "Nothing is lost" in shown
    assert "Rows: 8." in shown
    assert shown.startswith("Rowhand here.")


def test_in_a_pipe_a_full_disk_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(WorldError):
        run(failing(tmp_path), as_json=True, source=io.StringIO("set up\neight\n"))
