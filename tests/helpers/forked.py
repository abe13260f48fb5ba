"""A program started as a process of its own by a server of forks that read its code and dialogs once: what hundreds of
starts would spend on reading them again. It is a whole process still, killed as any other, with files of its own."""

from __future__ import annotations

import fcntl
import os
import runpy
import signal
import subprocess
import sys
import termios
import warnings
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.context import ForkServerProcess
from pathlib import Path
from typing import TextIO

from bot.settings import Settings
from engine import assistant
from tests.helpers.talking import library

FORKS = get_context("forkserver")
FORKS.set_forkserver_preload(["tests.helpers.loaded"])


def can_be_forked(command: Sequence[str]) -> bool:
    """Whether a command runs a module or a file by this interpreter."""
    return command[0] == sys.executable and (command[1] == "-m" or command[1].endswith(".py"))


class ForkedProcess:
    """``command`` at work in ``folder``, by the names and ways of ``subprocess.Popen`` with three pipes of text."""

    def __init__(self, command: Sequence[str], folder: Path, environment: Mapping[str, str]) -> None:
        self.args = command
        given, stdin = FORKS.Pipe(duplex=False)
        stdout, printed = FORKS.Pipe(duplex=False)
        stderr, complained = FORKS.Pipe(duplex=False)
        theirs = (given, printed, complained)
        self._process = FORKS.Process(target=_run, args=(command[1:], str(folder), dict(environment), theirs))
        self._process.start()
        for end in theirs:
            end.close()
        self.stdin, self.stdout, self.stderr = _text(stdin, "w"), _text(stdout, "r"), _text(stderr, "r")

    @property
    def pid(self) -> int | None:
        return self._process.pid

    @property
    def returncode(self) -> int | None:
        return self._process.exitcode

    def poll(self) -> int | None:
        return self._process.exitcode

    def kill(self) -> None:
        self._process.kill()

    def send_signal(self, number: int) -> None:
        if self._process.pid and self.poll() is None:
            os.kill(self._process.pid, number)

    def wait(self, timeout: float | None = None) -> int:
        self._process.join(timeout)
        if (code := self._process.exitcode) is None:
            raise subprocess.TimeoutExpired(self.args, timeout or 0)
        return code

    def communicate(self, text: str = "", timeout: float | None = None) -> tuple[str, str]:
        """All that it prints from now on, and all that it complains of, once it was given ``text`` and an end."""
        with ThreadPoolExecutor(3) as pool:
            printed, complained = pool.submit(self.stdout.read), pool.submit(self.stderr.read)
            pool.submit(_give, self.stdin, text)
            try:
                self.wait(timeout)
            except subprocess.TimeoutExpired:
                self.kill()
                raise
            return printed.result(), complained.result()


def completed(
    command: Sequence[str], folder: Path, environment: Mapping[str, str], said: str = "", timeout: float = 120.0
) -> subprocess.CompletedProcess[str]:
    """``command`` from its start to its end, given ``said``; as ``subprocess.run`` with its output captured."""
    process = ForkedProcess(command, folder, environment)
    printed, complained = process.communicate(said, timeout)
    return subprocess.CompletedProcess(command, process.wait(), printed, complained)


def at_terminal(command: Sequence[str], folder: Path, environment: Mapping[str, str], end: int) -> ForkServerProcess:
    """``command`` at work with ``end``, the end of a pseudo terminal, as its terminal."""
    with Connection(os.dup(end)) as theirs:
        process = FORKS.Process(target=_run, args=(command[1:], str(folder), dict(environment), (theirs,) * 3, True))
        process.start()
    return process


def _text(end: Connection, mode: str) -> TextIO:
    """The end of a pipe as a file of text."""
    kept = os.dup(end.fileno())
    end.close()
    return os.fdopen(kept, mode, encoding="utf-8", buffering=1)


def _give(stdin: TextIO, text: str) -> None:
    try:
        stdin.write(text)
        stdin.close()
    except BrokenPipeError:
        pass


def _run(
    words: Sequence[str],
    folder: str,
    environment: Mapping[str, str],
    ends: Sequence[Connection],
    terminal: bool = False,
) -> None:
    """In the fork: what a new interpreter does before it runs a program."""
    for number, end in enumerate(ends):
        os.dup2(end.fileno(), number)
    if terminal:
        os.setsid()
        fcntl.ioctl(0, termios.TIOCSCTTY, 0)
    warnings.simplefilter("ignore", RuntimeWarning)  # what is to be run was imported before
    signal.signal(signal.SIGINT, signal.default_int_handler)
    os.environ.clear()
    os.environ.update(environment)
    os.chdir(folder)
    sys.stdin = open(0, encoding="utf-8", closefd=False)  # noqa: SIM115
    sys.stdout = open(1, "w", encoding="utf-8", buffering=1, closefd=False)  # noqa: SIM115
    sys.stderr = open(2, "w", encoding="utf-8", buffering=1, closefd=False)  # noqa: SIM115
    if words[0] == "-m":
        sys.argv = list(words[1:])
        runpy.run_module(words[1], run_name="__main__", alter_sys=True)
    else:
        sys.argv = list(words)
        runpy.run_path(words[0], run_name="__main__")


def chat_process(settings: Settings, log: Path, brings: bool = True, hears: bool = False) -> ForkServerProcess:
    """The whole chat channel as its own process, which writes into ``log`` and hums; ``kill`` is SIGKILL. One that
    does not bring updates works on what another one brought; one that ``hears`` has processes of its own, and has to be
    killed."""
    given = settings.model_dump() | _plain(settings), str(log), brings
    process = FORKS.Process(target=_run_chat, args=given, daemon=not hears)
    process.start()
    return process


def _plain(settings: Settings) -> dict[str, object]:
    assert settings.telegram_token
    return {"telegram_token": settings.telegram_token.get_secret_value()}


def _run_chat(given: dict[str, object], log: str, brings: bool) -> None:
    from bot import wiring
    from bot.telegram.channel import run
    from bot.telegram.updates.source import UpdateWay
    from tests.helpers.tone import Tone

    wiring.voice = lambda settings, language: Tone()  # type: ignore[assignment, return-value]
    assistant.load_library = library
    file = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.dup2(file, 1), os.dup2(file, 2)
    run(Settings(**given), UpdateWay.POLLING if brings else None)  # type: ignore[arg-type]
