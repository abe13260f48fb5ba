"""The chat channel as processes that are there at once, forked where everything is loaded, to be killed."""

from __future__ import annotations

import multiprocessing
import os
from multiprocessing.context import ForkServerProcess
from pathlib import Path

from bot.settings import Settings
from engine import assistant
from tests.helpers.talking import house, library

_FORKS = multiprocessing.get_context("forkserver")
_FORKS.set_forkserver_preload(["tests.helpers.chat_bot", "tests.helpers.loaded"])


def chat_process(settings: Settings, log: Path, brings: bool = True, hears: bool = False) -> ForkServerProcess:
    """The whole chat channel as its own process, which writes into ``log`` and hums; ``kill`` is SIGKILL. One that
    does not bring updates works on what another one brought; one that ``hears`` has processes of its own, and has to be
    killed."""
    given = settings.model_dump() | _plain(settings), str(log), brings
    process = _FORKS.Process(target=_run, args=given, daemon=not hears)
    process.start()
    return process


def _plain(settings: Settings) -> dict[str, object]:
    assert settings.telegram_token
    return {"telegram_token": settings.telegram_token.get_secret_value()}


def _run(given: dict[str, object], log: str, brings: bool) -> None:
    from bot import wiring
    from bot.telegram.channel import run
    from bot.telegram.updates.source import UpdateWay
    from tests.helpers.tone import Tone

    wiring.voice = lambda settings, language: Tone()  # type: ignore[assignment, return-value]
    assistant.load_library, assistant.load_house = library, house
    file = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.dup2(file, 1), os.dup2(file, 2)
    run(Settings(**given), UpdateWay.POLLING if brings else None)  # type: ignore[arg-type]
