"""The programs of the chat on the command line: the one that its updates come to, and workers beside it."""

from __future__ import annotations

from typing import Annotated

import typer

from bot.options import RecordOption
from bot.settings import load_settings
from bot.telegram.channel import run, work_kinds
from bot.telegram.updates.source import UpdateWay


def telegram(
    *,
    db: RecordOption = None,
    webhook: Annotated[bool, typer.Option("--webhook", help="Let updates be brought to ROWHAND_WEBHOOK_URL.")] = False,
    health: Annotated[bool, typer.Option("--health", help="Answer GET /health while polling too.")] = False,
) -> None:
    """Answer in a chat: text and voice notes, with the bot token in ROWHAND_TELEGRAM_TOKEN."""
    way = UpdateWay.WEBHOOK if webhook else UpdateWay.POLLING_WITH_HEALTH if health else UpdateWay.POLLING
    run(load_settings(database=db), way)


def worker(
    *,
    kinds: Annotated[str, typer.Option(help="What it does, with commas between.")] = "hear,turn,send,remind",
) -> None:
    """Work on what comes into a chat on a database server, beside rowhand telegram: any number, on any computers."""
    run(load_settings(), None, work_kinds(kinds))
