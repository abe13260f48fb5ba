"""Starts the process that holds the assistant, talks with it, kills it and starts it again."""

from __future__ import annotations

import subprocess
import sys
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import IO, Self

from demo.letters import DemoCall, DemoCalls, DemoStatus, DemoTurn, DemoUtterance, DemoWait, Orders
from engine.errors import WorldError

ROOT = Path(__file__).parents[1]


class WorkerLost(WorldError):
    """The process that holds the assistant ended by itself."""


class Keeper:
    """One worker at a time, on one record. It is killed when the keeper goes, however that comes about."""

    def __init__(self, orders: Orders) -> None:
        self._orders = orders
        self._process = self._new()
        self.standing = DemoStatus.model_validate_json(self._line())

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.kill()

    @property
    def pid(self) -> int:
        return self._process.pid

    def say(self, said: DemoUtterance) -> DemoTurn:
        """Say one thing and wait for the turn."""
        self.begin(said)
        answered = DemoTurn.model_validate_json(self._line())
        self.standing = answered.standing
        return answered

    def begin(self, said: DemoUtterance) -> None:
        """Say one thing without waiting."""
        self._send(said)

    def wait(self, until: datetime) -> tuple[DemoCall, ...]:
        """Say nothing until a moment; what rings meanwhile."""
        self._send(DemoWait(until=until))
        return DemoCalls.model_validate_json(self._line()).calls

    def kill(self) -> int:
        """SIGKILL: no goodbye, nothing flushed. Gives the exit status, minus the signal."""
        self._process.kill()
        status = self._process.wait()
        self._input.close()
        self._output.close()
        return status

    def restart(self) -> DemoStatus:
        """A new process on the same record; where the conversation stands there."""
        self._process = self._new()
        self.standing = DemoStatus.model_validate_json(self._line())
        return self.standing

    def _send(self, one: DemoUtterance | DemoWait) -> None:
        print(one.model_dump_json(), file=self._input, flush=True)

    def _new(self) -> subprocess.Popen[str]:
        """In a session of its own, so that Ctrl-C reaches the keeper alone."""
        return subprocess.Popen(
            [sys.executable, "-m", "demo.worker", self._orders.model_dump_json()],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            encoding="utf-8",
            start_new_session=True,
        )

    @property
    def _input(self) -> IO[str]:
        return _open(self._process.stdin)

    @property
    def _output(self) -> IO[str]:
        return _open(self._process.stdout)

    def _line(self) -> str:
        line = self._output.readline()
        if not line:
            raise WorkerLost(f"the assistant's process ended with status {self._process.wait()}")
        return line


def _open(pipe: IO[str] | None) -> IO[str]:
    if pipe is None:
        raise WorkerLost("the assistant's process has no pipe")
    return pipe
