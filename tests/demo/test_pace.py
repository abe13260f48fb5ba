"""Enter ends a pause at a terminal; elsewhere there is no waiting for it."""

from __future__ import annotations

import io
import os

import pytest

from demo.pace import FAST, Pace

LONG = Pace(breath=0, look=3600)


def test_enter_ends_a_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    master, slave = os.openpty()
    with os.fdopen(slave) as terminal, os.fdopen(master, "wb", buffering=0) as keys:
        monkeypatch.setattr("sys.stdin", terminal)
        keys.write(b"\n\n")
        assert LONG.waits
        LONG.rest()
        LONG.rest()


def test_without_a_terminal_it_only_sleeps(monkeypatch: pytest.MonkeyPatch) -> None:
    slept: list[float] = []
    monkeypatch.setattr("sys.stdin", io.StringIO("\n"))
    monkeypatch.setattr("time.sleep", slept.append)
    assert not LONG.waits
    LONG.rest()
    assert slept == [3600]


def test_without_pauses_nothing_is_said_of_enter() -> None:
    assert not FAST.waits
