"""Files of the chat: brought from its server, and photos of labels kept with the product that they are for."""

from __future__ import annotations

import asyncio
import logging

from telegram import Bot
from telegram.error import BadRequest, TelegramError

from bot.photo_file import MOST_BYTES, ScanFault, scan
from bot.telegram.background import BackgroundTasks
from bot.telegram.context import ChatContext
from bot.telegram.texts import ChatKey
from bot.telegram.updates.backoff import Backoff
from bot.telegram.updates.update import Photo, Visit
from engine.history.store.journal import StoredTurn
from engine.queues.outbox_message import TextMessage
from speech.errors import AudioFault

READ_S, TRIES = 30.0, 8
UNHEARD = {
    None: ChatKey.VOICE_NO_EARS,
    AudioFault.EMPTY: ChatKey.VOICE_EMPTY,
    AudioFault.CUT: ChatKey.VOICE_CUT,
    AudioFault.TOO_LONG: ChatKey.VOICE_TOO_LONG,
    AudioFault.NOT_AUDIO: ChatKey.VOICE_NOT_AUDIO,
    AudioFault.UNREADABLE: ChatKey.VOICE_UNREADABLE,
}
TOAST = 200
"""So many characters a toast may have."""
log = logging.getLogger("rowhand.telegram")


def unheard(fault: AudioFault | None) -> ChatKey:
    """What is said of a voice note that gave no words, by what is wrong with it."""
    return UNHEARD[fault]


class Fetcher(BackgroundTasks):
    """Downloads that are tried again for about a minute, nods that are tried once."""

    def __init__(self, bot: Bot) -> None:
        super().__init__()
        self._bot = bot

    async def fetch(self, file_id: str, largest: int) -> bytes | ChatKey:
        """The bytes of a file, or why there are none."""
        patience = Backoff()
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

    def acknowledge(self, query: str, toast: str = "") -> None:
        """Stop the clock on the button, with a line that shows for a moment; what goes wrong does not matter."""
        self.begin(self._nod(query, toast))

    async def _nod(self, query: str, toast: str) -> None:
        try:
            await self._bot.answer_callback_query(query, toast[:TOAST] or None)
        except TelegramError as error:
            log.info("nod failed error=%s", type(error).__name__)


WHY = {
    ScanFault.TOO_LARGE: ChatKey.PHOTO_TOO_LARGE,
    ScanFault.TOO_MANY_PIXELS: ChatKey.PHOTO_TOO_LARGE,
    ScanFault.NONE: ChatKey.PHOTO_NONE,
}


class Photos:
    """Takes what was sent where it is for a product."""

    def __init__(self, chat: ChatContext, fetcher: Fetcher) -> None:
        self._engine, self._crew, self._texts, self._fetcher = chat.engine, chat.crew, chat.texts, fetcher

    async def take(self, visit: Visit, photo: Photo) -> StoredTurn | ChatKey | None:
        """The turn in which it was kept, or why it was not; None where it is for no product.

        Under words that ask for a label it is one to keep: an older one that came back would look like it.
        """
        before = await self._engine.turn(visit.id)
        if before is not None:
            return before
        if await self._engine.product_for(visit.talk, photo.caption) is None:
            asks = self._texts.fetches(photo.caption, await self._engine.language(visit.talk))
            return ChatKey.PHOTO_FOR_WHICH if asks else None
        if photo.size > MOST_BYTES:
            return ChatKey.PHOTO_TOO_LARGE
        content = await self._fetcher.fetch(photo.file_id, MOST_BYTES)
        if isinstance(content, ChatKey):
            return ChatKey.PHOTO_TOO_LARGE if content is ChatKey.VOICE_TOO_LARGE else ChatKey.PHOTO_NOT_FETCHED
        found = await asyncio.to_thread(scan, content)
        if isinstance(found, ScanFault):
            return WHY[found]
        said = visit.utterance(await self._engine.language(visit.talk), photo.caption)
        return await self._engine.attach(said, found, await self._crew.everyone(visit.member))

    async def unread(self, visit: Visit) -> TextMessage:
        """What is answered to one that is for no product and has no words: nothing is read from it; what is asked."""
        head = self._texts.say(ChatKey.PHOTO_UNREAD, await self._engine.language(visit.talk))
        reply = await self._engine.prompt(visit.talk)
        return TextMessage(text=f"{head}\n{reply.text}", buttons=reply.buttons, seq=await self._engine.seq(visit.talk))
