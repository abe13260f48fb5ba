"""A real process that reads lines and answers each with a line, started, fed and killed without warning."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

from tests.helpers.forked import ForkedProcess, can_be_forked

ROOT = Path(__file__).resolve().parents[2]


def python(*arguments: str) -> list[str]:
    """A command that runs this interpreter, as in ``python("-m", "bot.cli", "talk")``."""
    return [sys.executable, *arguments]


@dataclass(frozen=True)
class Outcome:
    """What a process printed before its end; ``returncode`` is -9 after a kill."""

    lines: tuple[str, ...]
    errors: str
    returncode: int


def run_lines(
    command: Sequence[str],
    lines: Sequence[str],
    *,
    kill_after: int | None = None,
    pause: float = 0.0,
    folder: Path = ROOT,
    cold: bool = False,
) -> Outcome:
    """Feed ``lines`` on standard input and read what comes, of a new interpreter where it is to start ``cold``.

    With ``kill_after`` the process gets SIGKILL ``pause`` seconds after its ``kill_after``-th line (0: its start);
    a process that ends before that is not killed. Raises TimeoutError after two minutes.
    """
    process = started(command, folder, cold)
    try:
        return _feed(process, lines, kill_after, pause)
    finally:
        process.kill()
        process.wait()


def started(command: Sequence[str], folder: Path = ROOT, cold: bool = False) -> subprocess.Popen[str] | ForkedProcess:
    """A process with three pipes of text: a fork where that can be and it is not to start ``cold``."""
    environment = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}
    if not cold and can_be_forked(command):
        return ForkedProcess(command, folder, environment)
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    return subprocess.Popen(command, cwd=folder, env=environment, encoding="utf-8", bufsize=1, **pipes)  # type: ignore[call-overload, no-any-return]


def _feed(
    process: subprocess.Popen[str] | ForkedProcess, lines: Sequence[str], kill_after: int | None, pause: float
) -> Outcome:
    assert process.stdin and process.stdout
    text = "".join(f"{line}\n" for line in lines)
    if kill_after is None:
        out, errors = process.communicate(text, timeout=120)
        return Outcome(tuple(out.splitlines()), errors, process.wait())
    os.write(process.stdin.fileno(), text.encode())  # fits the pipe: the process never waits for us
    seen: list[str] = []
    while len(seen) < kill_after and (line := process.stdout.readline()):
        seen.append(line.rstrip("\n"))
    time.sleep(pause)
    process.kill()
    out, errors = process.communicate(timeout=120)
    return Outcome((*seen, *out.splitlines()), errors, process.wait())


def run_until_done(
    command: Sequence[str], lines: Sequence[str], chance: Random, *, kills: int, longest_pause: float = 0.05
) -> tuple[Outcome, int]:
    """Kill the process ``kills`` times at random points, each time giving all ``lines`` again, then let it finish.

    Returns the outcome of the last, undisturbed start and how many of the kills really hit a living process.
    """
    hits = 0
    for _ in range(kills):
        after = chance.randrange(len(lines))
        outcome = run_lines(command, lines, kill_after=after, pause=chance.uniform(0, longest_pause))
        hits += outcome.returncode == -9
    return run_lines(command, lines), hits
