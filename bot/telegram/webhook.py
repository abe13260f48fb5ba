"""Updates brought by the chat server to our own address, in place of asking for them."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import TypeVar

from telegram import Bot
from telegram.error import BadRequest, EndPointNotFound, InvalidToken, TelegramError

from bot.telegram.backoff import Patience
from bot.telegram.http_server import Door
from bot.telegram.intake import Intake
from bot.telegram.update import KINDS
from engine.errors import DefinitionError

CONNECTIONS = 10
"""How many updates the server may bring at once; those of one chat come one after another anyway."""
WATCH_S = 60.0
FAREWELL_S = 5.0
T = TypeVar("T")
log = logging.getLogger("rowhand.telegram")


@dataclass(frozen=True)
class Webhook:
    """Tells the server our address while it runs. What is sent while nobody listens waits there for a day."""

    bot: Bot
    door: Door
    intake: Intake
    url: str
    secret: str

    async def run(self) -> None:
        """Raises DefinitionError when the server knows neither token nor address, WorldError without a port."""
        self.door.open()
        tasks = [asyncio.create_task(part) for part in (self.intake.run(), self._stay())]
        try:
            await asyncio.gather(*tasks)
        finally:
            for task in tasks:
                task.cancel()
            await self._leave()

    async def _stay(self) -> None:
        """Give our address, and give it again where somebody took it away."""
        is_first = True
        while True:
            await self._patient(self._give, is_first)
            is_first = False
            log.info("webhook set")
            while await self._patient(self._given) == self.url:
                await asyncio.sleep(WATCH_S)
            log.warning("webhook lost")

    async def _give(self) -> None:
        await self.bot.set_webhook(
            self.url, secret_token=self.secret, allowed_updates=list(KINDS), max_connections=CONNECTIONS
        )

    async def _given(self) -> str:
        info = await self.bot.get_webhook_info()
        log.info("webhook pending=%d failing=%s", info.pending_update_count, info.last_error_date is not None)
        return info.url

    async def _patient(self, ask: Callable[[], Awaitable[T]], refusal_ends: bool = False) -> T:
        patience = Patience()
        while True:
            try:
                return await ask()
            except (InvalidToken, EndPointNotFound) as error:
                raise DefinitionError(
                    "settings", "telegram_token", "the server does not know this token", "ask for it again and set it"
                ) from error
            except TelegramError as error:
                if refusal_ends and isinstance(error, BadRequest):
                    said = f"the server refuses it: {error.message}"
                    raise DefinitionError("settings", "webhook_url", said, "set a public https address") from error
                seconds = patience.next(error)
                log.warning("webhook failed error=%s wait_s=%.1f", type(error).__name__, seconds)
                await asyncio.sleep(seconds)

    async def _leave(self) -> None:
        """Close, and take our address back, so that the server need not try it; what waits there is kept."""
        await self.door.close()
        try:
            await asyncio.wait_for(self.bot.delete_webhook(drop_pending_updates=False), FAREWELL_S)
        except (TelegramError, TimeoutError) as error:
            log.warning("webhook left error=%s", type(error).__name__)
