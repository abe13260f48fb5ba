"""Files from the server, the nod to a pressed button, and the address of the bot."""

from __future__ import annotations

import asyncio
import logging

from telegram import Bot
from telegram.error import BadRequest, TelegramError
from telegram.helpers import create_deep_linked_url

from bot.telegram.backoff import Patience
from bot.telegram.texts import ChatKey

READ_S, TRIES = 30.0, 8
log = logging.getLogger("rowhand.telegram")


class Fetcher:
    """Downloads that are tried again for about a minute, nods that are tried once."""

    def __init__(self, bot: Bot) -> None:
        self._bot = bot
        self._nods: set[asyncio.Task[None]] = set()
        self._username: str | None = None

    async def fetch(self, file_id: str, largest: int) -> bytes | ChatKey:
        """The bytes of a file, or why there are none."""
        patience = Patience()
        while patience.failures < TRIES:
            try:
                file = await self._bot.get_file(file_id, read_timeout=READ_S)
                if (file.file_size or 0) > largest:
                    return ChatKey.VOICE_TOO_LARGE
                sound = bytes(await file.download_as_bytearray(read_timeout=READ_S))
                return sound if len(sound) <= largest else ChatKey.VOICE_TOO_LARGE
            except BadRequest:
                return ChatKey.VOICE_NOT_FETCHED
            except TelegramError as error:
                log.warning("download failed error=%s", type(error).__name__)
                await asyncio.sleep(patience.next(error))
        return ChatKey.VOICE_NOT_FETCHED

    async def link(self, code: str) -> str:
        """The address that opens the chat with an invitation; what to write to the bot where its name is not known."""
        try:
            self._username = self._username or (await self._bot.get_me()).username
        except TelegramError as error:
            log.warning("name failed error=%s", type(error).__name__)
        return create_deep_linked_url(self._username, code) if self._username else f"/start {code}"

    def acknowledge(self, query: str) -> None:
        """Stop the clock on the button; what goes wrong does not matter."""
        task = asyncio.create_task(self._nod(query))
        self._nods.add(task)
        task.add_done_callback(self._nods.discard)

    async def _nod(self, query: str) -> None:
        try:
            await self._bot.answer_callback_query(query)
        except TelegramError as error:
            log.info("nod failed error=%s", type(error).__name__)

    async def stop(self) -> None:
        for task in self._nods:
            task.cancel()
        await asyncio.gather(*self._nods, return_exceptions=True)
