"""Photos and files of labels in the chat, kept with the product that they are for."""

from __future__ import annotations

import asyncio

from bot.scan import MOST_BYTES, ScanFault, scan
from bot.telegram.crew import Crew
from bot.telegram.fetching import Fetcher
from bot.telegram.mind import Mind
from bot.telegram.texts import Key
from bot.telegram.update import Photo
from bot.telegram.visit import Visit
from engine.history.journal import StoredTurn

WHY = {
    ScanFault.TOO_LARGE: Key.PHOTO_TOO_LARGE,
    ScanFault.TOO_MANY_PIXELS: Key.PHOTO_TOO_LARGE,
    ScanFault.NONE: Key.PHOTO_NONE,
}


class Photos:
    """Takes what was sent where it is for a product."""

    def __init__(self, mind: Mind, fetcher: Fetcher, crew: Crew) -> None:
        self._mind, self._fetcher, self._crew = mind, fetcher, crew

    async def take(self, visit: Visit, photo: Photo) -> StoredTurn | Key | None:
        """The turn in which it was kept, or why it was not; None where it is for no product."""
        before = await self._mind.turn(visit.id)
        if before is not None:
            return before
        if await self._mind.product_for(visit.talk, photo.caption) is None:
            return None
        if photo.size > MOST_BYTES:
            return Key.PHOTO_TOO_LARGE
        content = await self._fetcher.fetch(photo.file_id, MOST_BYTES)
        if isinstance(content, Key):
            return Key.PHOTO_TOO_LARGE if content is Key.VOICE_TOO_LARGE else Key.PHOTO_NOT_FETCHED
        found = await asyncio.to_thread(scan, content)
        if isinstance(found, ScanFault):
            return WHY[found]
        said = visit.utterance(await self._mind.language(visit.talk), photo.caption)
        return await self._mind.attach(said, found, await self._crew.everyone(visit.member))
