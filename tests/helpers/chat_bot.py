"""The chat channel on the chat server of the tests: in this process, or as a process of its own that can be killed."""

from __future__ import annotations

import asyncio
import contextlib
import os
import socket
import sys
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

from pydantic import SecretStr
from sqlalchemy import select

from bot.settings import Settings
from bot.telegram.channel import channel
from bot.telegram.updates.source import UpdateWay
from engine.database import open_database
from engine.history.store import tables
from engine.history.store.journal import Journal
from tests.helpers.process import ROOT
from tests.helpers.record import where
from tests.helpers.telegram_server import TelegramServer

FAST = 10_000.0
SECRET = "a-secret_of-the-test"


def hook(port: int) -> str:
    """The address of a webhook on this machine."""
    return f"http://127.0.0.1:{port}/updates"


def free_port() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])


def settings_for(server: TelegramServer, place: Path, **more: object) -> Settings:
    """Settings of a bot that sends as fast as it can."""
    given: dict[str, object] = {"telegram_rate": FAST, "telegram_chat_rate": FAST, "voice": "none", **more}
    token = SecretStr(server.token)
    return Settings(database=where(place), telegram_token=token, telegram_url=server.url, **given)  # type: ignore[arg-type]


@contextlib.asynccontextmanager
async def started(settings: Settings, way: UpdateWay = UpdateWay.POLLING) -> AsyncIterator[asyncio.Task[None]]:
    async with channel(settings, way) as built:
        work = asyncio.create_task(built.run())
        try:
            yield work
        finally:
            work.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await work


@contextlib.asynccontextmanager
async def bot_process(
    server: TelegramServer, place: Path, log: Path | None = None, port: int | None = None
) -> AsyncIterator[asyncio.subprocess.Process]:
    """``rowhand telegram`` as its own process, with a webhook on ``port`` where that is given.

    At the end it is killed where it still lives.
    """
    environment = os.environ | {
        "ROWHAND_TELEGRAM_TOKEN": server.token,
        "ROWHAND_TELEGRAM_URL": server.url,
        "ROWHAND_TELEGRAM_RATE": str(FAST),
        "ROWHAND_TELEGRAM_CHAT_RATE": str(FAST),
        "ROWHAND_VOICE": "none",
        "ROWHAND_DATABASE": where(place),
        "ROWHAND_WEBHOOK_URL": hook(port) if port else "",
        "ROWHAND_WEBHOOK_SECRET": SECRET,
        "ROWHAND_LISTEN_PORT": str(port or 0),
    }
    arguments = ("-m", "bot.cli", "telegram", *(["--webhook"] if port else []))
    with log.open("ab") if log else contextlib.nullcontext(asyncio.subprocess.DEVNULL) as errors:
        process = await asyncio.create_subprocess_exec(
            sys.executable, *arguments, cwd=ROOT, env=environment, stderr=errors
        )
        try:
            yield process
        finally:
            if process.returncode is None:
                process.kill()
            await process.wait()


def timeless(fact: dict[str, Any]) -> dict[str, Any]:
    """A fact without the moment at which it was told, where it holds one."""
    return {key: value for key, value in fact.items() if key != "at" or fact["kind"] not in ("finished", "cautioned")}


def history(place: Path | str) -> dict[str, list[tuple[object, ...]]]:
    """Every turn by conversation, without the moments at which they were said."""
    database = open_database(where(place))
    journal = Journal(database)
    with database.read() as connection:
        names = list(connection.execute(select(tables.conversation.c.id)).scalars())
    told = {
        name: [
            (one.seq, one.utterance_id, one.heard, one.reply, tuple(map(timeless, one.facts)))
            for one in journal.turns(name)
        ]
        for name in names
    }
    database.close()
    return told
