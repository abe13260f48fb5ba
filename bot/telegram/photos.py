"""Photos and files of labels in the chat, kept with the product that they are for."""

from __future__ import annotations

import asyncio

from bot.scan import MOST_BYTES, ScanFault, scan
from bot.telegram.access import Crew
from bot.telegram.engine_worker import EngineWorker
from bot.telegram.fetching import Fetcher
from bot.telegram.request import Visit
from bot.telegram.texts import ChatKey
from bot.telegram.update import Photo
from engine.history.journal import StoredTurn

WHY = {
    ScanFault.TOO_LARGE: ChatKey.PHOTO_TOO_LARGE,
    ScanFault.TOO_MANY_PIXELS: ChatKey.PHOTO_TOO_LARGE,
    ScanFault.NONE: ChatKey.PHOTO_NONE,
}


class Photos:
    """Takes what was sent where it is for a product."""

    def __init__(self, mind: EngineWorker, fetcher: Fetcher, crew: Crew) -> None:
        self._mind, self._fetcher, self._crew = mind, fetcher, crew

    async def take(self, visit: Visit, photo: Photo) -> StoredTurn | ChatKey | None:
        """The turn in which it was kept, or why it was not; None where it is for no product."""
        before = await self._mind.turn(visit.id)
        if before is not None:
            return before
        if await self._mind.product_for(visit.talk, photo.caption) is None:
            return None
        if photo.size > MOST_BYTES:
            return ChatKey.PHOTO_TOO_LARGE
        content = await self._fetcher.fetch(photo.file_id, MOST_BYTES)
        if isinstance(content, ChatKey):
            return ChatKey.PHOTO_TOO_LARGE if content is ChatKey.VOICE_TOO_LARGE else ChatKey.PHOTO_NOT_FETCHED
        found = await asyncio.to_thread(scan, content)
        if isinstance(found, ScanFault):
            return WHY[found]
        said = visit.utterance(await self._mind.language(visit.talk), photo.caption)
        return await self._mind.attach(said, found, await self._crew.everyone(visit.member))
