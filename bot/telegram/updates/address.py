"""The address under which the chat is opened with an invitation."""

from __future__ import annotations

import asyncio
import logging
from dataclasses import dataclass

from telegram import Bot
from telegram.error import TelegramError
from telegram.helpers import create_deep_linked_url

from bot.settings import Settings
from bot.telegram.updates.client import client, http_request
from bot.telegram.updates.update import PREFIX
from engine.account import Accounts
from engine.database import Database

log = logging.getLogger("rowhand.telegram")


@dataclass(frozen=True)
class Address:
    """Asks the server once what the bot is called, and remembers it."""

    bot: Bot
    accounts: Accounts

    @property
    def _channel(self) -> str:
        """The account is known by its number, which stands before the secret part of the token."""
        return f"{PREFIX}{self.bot.token.partition(':')[0]}"

    async def link(self, code: str) -> str | None:
        """The address; None where the name of the bot is not known and cannot be asked for now."""
        name = await asyncio.to_thread(self.accounts.name, self._channel) or await self._asked()
        return create_deep_linked_url(name, code) if name else None

    async def told(self, code: str) -> str:
        """The address, or what to write to the bot instead."""
        return await self.link(code) or f"/start {code}"

    async def _asked(self) -> str | None:
        try:
            name = (await self.bot.get_me()).username
        except TelegramError as error:
            log.warning("name failed error=%s", type(error).__name__)
            return None
        if name:
            await asyncio.to_thread(self.accounts.remember, self._channel, name)
        return name


def link_of(settings: Settings, database: Database, code: str) -> str | None:
    """The address for an invitation that is made at the computer; None where it is not known now."""
    return asyncio.run(_link(settings, database, code))


async def _link(settings: Settings, database: Database, code: str) -> str | None:
    requests = http_request()
    try:
        return await Address(client(settings, requests, requests), Accounts(database)).link(code)
    finally:
        await requests.shutdown()
