"""Fetching updates: each batch is in the inbox, on the disk, before the next request confirms it."""

from __future__ import annotations

import asyncio
import logging
import warnings
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any

from telegram import Bot
from telegram.error import EndPointNotFound, InvalidToken, TelegramError
from telegram.warnings import PTBUserWarning

from bot.telegram.backoff import Patience
from bot.telegram.update import KINDS, incoming
from engine.errors import DefinitionError, WorldError
from engine.inbox import Inbox, Incoming

POLL_S, MARGIN_S = 25, 10
log = logging.getLogger("rowhand.telegram")


class Poller:
    """Asks the server for updates for ever; ``take`` gets what is new, in order, once it is kept."""

    def __init__(self, bot: Bot, inbox: Inbox, take: Callable[[Sequence[Incoming]], None]) -> None:
        self._bot, self._inbox, self._take = bot, inbox, take
        self._offset: int | None = None
        self._patience = Patience()

    async def run(self) -> None:
        """Raises DefinitionError when the server does not know the token; any other trouble is waited out."""
        while True:
            try:
                await self._round()
                self._patience.reset()
            except (InvalidToken, EndPointNotFound) as error:
                raise DefinitionError(
                    "settings", "telegram_token", "the server does not know this token", "ask for it again and set it"
                ) from error
            except (TelegramError, WorldError) as error:
                seconds = self._patience.next(error)
                log.warning("poll failed error=%s wait_s=%.1f", type(error).__name__, seconds)
                await asyncio.sleep(seconds)

    async def _round(self) -> None:
        if self._offset is None:
            await self._bot.delete_webhook()
            self._offset = 0
        raw = await self._fetch(self._offset)
        if not raw:
            return
        now = datetime.now(UTC)
        fresh = await asyncio.to_thread(self._inbox.put, [incoming(one, now) for one in raw])
        self._offset = max(int(one["update_id"]) for one in raw) + 1
        log.info("received updates=%d new=%d", len(raw), len(fresh))
        self._take(fresh)

    async def _fetch(self, offset: int) -> list[dict[str, Any]]:
        asked = {"offset": offset, "timeout": POLL_S, "allowed_updates": list(KINDS)}
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", PTBUserWarning)
            found: list[dict[str, Any]] = await self._bot.do_api_request(
                "getUpdates", api_kwargs=asked, read_timeout=POLL_S + MARGIN_S
            )
        return found
