"""Reminders in ``rowhand talk``: at a terminal while it waits for words, in a pipe only where they are asked for."""

from __future__ import annotations

import json
import os
import select
import subprocess
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bot import wiring
from bot.lines import lines
from bot.settings import CONVERSATION, load_settings
from engine.database import open_database
from engine.queues.outbox import Outbox
from engine.queues.outbox_message import words_of
from engine.reminders.schedule import Schedule
from tests.helpers.bell import look
from tests.helpers.process import ROOT, python, started
from tests.helpers.reminding import apply

PROMPT = b"you\x1b[0m "
TALK = python("-m", "bot.cli", "talk", "--db")


def remind(place: Path, seconds: float) -> None:
    now = datetime.now(UTC)
    database = open_database(place)
    apply(database, look(now + timedelta(seconds=seconds)), conversation=CONVERSATION, at=now)
    database.close()


def start(place: Path, *options: str, **pipes: int) -> subprocess.Popen[bytes]:
    environment = {name: value for name, value in os.environ.items() if name != "TERM"}
    environment |= {"PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
    return subprocess.Popen([*TALK, str(place), *options], cwd=ROOT, env=environment, **pipes)  # type: ignore[call-overload,no-any-return]


def read_until(file: int, words: bytes, seconds: float = 60.0) -> bytes:
    found, end = b"", time.monotonic() + seconds
    while words not in found:
        assert select.select([file], [], [], max(end - time.monotonic(), 0))[0], found
        more = os.read(file, 65_536)
        assert more, found
        found += more
    return found


@pytest.mark.skipif(os.name == "nt", reason="a terminal of this kind is not there")
def test_at_a_terminal_without_an_editor_it_rings_while_nothing_is_typed(tmp_path: Path) -> None:
    import pty

    place = tmp_path / "a.db"
    ours, theirs = pty.openpty()
    process = start(place, stdin=theirs, stdout=theirs, stderr=theirs)
    try:
        read_until(ours, PROMPT)
        remind(place, 0.3)
        shown = read_until(ours, PROMPT)
        assert b"Look at the hoppers: due" in shown and b"\a" in shown and b"All good" in shown
        os.write(ours, b"set up\nhelp\n")
        assert b"How many rows?" in read_until(ours, b"How many rows?")
        os.write(ours, b"\x04")
        assert process.wait(60) == 0
    finally:
        process.kill()
        process.wait()
    assert Outbox(open_database(place)).pending(CONVERSATION) == ()


def ringing_pipe(place: Path, *options: str) -> list[str]:
    """What comes when a reminder falls due between two lines; where it is to be silent, two seconds pass."""
    process = started([*TALK, str(place), *options])
    assert process.stdin and process.stdout
    process.stdin.write("setúp\n")
    process.stdin.flush()
    read_until(process.stdout.fileno(), b"\n")
    remind(place, 0.2)
    rung = b""
    if "--ring" in options:
        rung = read_until(process.stdout.fileno(), b"\n")
    else:
        time.sleep(2.0)
    out, _ = process.communicate("help", timeout=60)
    assert process.returncode == 0
    return [*rung.decode().splitlines(), *out.splitlines()]


def test_in_a_pipe_it_rings_where_it_is_asked_to(tmp_path: Path) -> None:
    ring, turn = (json.loads(line) for line in ringing_pipe(tmp_path / "a.db", "--ring", "--json"))
    assert ring["ring"]["text"].startswith("Look at the hoppers: due")
    assert [button["says"] for button in ring["ring"]["buttons"]] == ["all good", "ten more minutes"]
    assert turn["heard"] == "help"


def test_in_a_pipe_it_is_silent_otherwise(tmp_path: Path) -> None:
    (turn,) = (json.loads(line) for line in ringing_pipe(tmp_path / "a.db", "--json"))
    assert turn["heard"] == "help"
    assert len(Schedule(open_database(tmp_path / "a.db")).waiting(CONVERSATION)) == 1


def test_a_record_in_memory_rings_as_well() -> None:
    settings = load_settings(database=":memory:")
    record = wiring.open_record(settings)
    calls = wiring.calls(settings, wiring.assistant(settings, record), record)
    now = datetime.now(UTC)
    apply(record, look(now), conversation=CONVERSATION, at=now)
    assert [words_of(call)[:24] for call in calls.due()] == ["Look at the hoppers: due"]
    assert list(calls.due()) == []
    record.close()


@pytest.mark.parametrize("meanwhile", [None, lambda: None])
@pytest.mark.parametrize(
    ("written", "read"),
    [
        (b"", []),
        (b"one\ntwo\n", ["one", "two"]),
        (b"one\n\ntwo", ["one", "", "two"]),
        ("años\ncaf\u00e9".encode(), ["años", "café"]),
    ],
)
def test_lines_to_the_end_of_a_stream(
    tmp_path: Path, meanwhile: Callable[[], None] | None, written: bytes, read: list[str]
) -> None:
    place = tmp_path / "said.txt"
    place.write_bytes(written)
    with place.open(encoding="utf-8") as source:
        assert [line.rstrip("\n") for line in lines(source, meanwhile)] == read


@pytest.mark.skipif(os.name == "nt", reason="never called there")
def test_a_line_in_pieces_is_one_line_and_something_is_done_meanwhile() -> None:
    reading, writing = os.pipe()
    pieces = [b"wo\nth", b"r\xc3", b"\xa9e", b""]

    def meanwhile() -> None:
        if pieces and pieces[0]:
            os.write(writing, pieces.pop(0))
        elif pieces:
            os.close(writing)
            pieces.pop()

    os.write(writing, b"one\nt")
    with os.fdopen(reading, encoding="utf-8") as source, pytest.MonkeyPatch.context() as patch:
        patch.setattr("bot.lines.PAUSE_S", 0.01)
        assert list(lines(source, meanwhile)) == ["one", "two", "thrée"]
    assert pieces == []
