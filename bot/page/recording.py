"""Recordings of phones: taken whole, heard beside the loop, and answered like a line."""

from __future__ import annotations

from datetime import UTC, datetime
from http import HTTPStatus
from typing import TYPE_CHECKING

from pydantic import ValidationError
from tornado.web import stream_request_body

from bot.page.hub import PhoneHub
from bot.page.talk import LineTaker
from bot.page.texts import PageKey
from bot.page.views.messages import SentLine, SettledLine, Settlement
from bot.page.visitors.door import PageDoor, PageHandler
from bot.page.visitors.phones import PhoneRole
from bot.record_thread import RecordThread
from engine.errors import WorldError
from speech.errors import AudioFault

if TYPE_CHECKING:
    from bot.hearing import HearingPool

WHY = {
    None: PageKey.NO_EARS,
    AudioFault.EMPTY: PageKey.SOUND_EMPTY,
    AudioFault.CUT: PageKey.SOUND_CUT,
    AudioFault.TOO_LONG: PageKey.SOUND_LONG,
    AudioFault.NOT_AUDIO: PageKey.SOUND_FOREIGN,
    AudioFault.UNREADABLE: PageKey.SOUND_DAMAGED,
}
FIELDS = ("id", "at", "now", "seq")


@stream_request_body
class RecordingHandler(PageHandler):
    """Takes the sound as the body, and what a line says of itself in the address."""

    def initialize(  # type: ignore[override]
        self,
        door: PageDoor,
        hub: PhoneHub,
        taker: LineTaker,
        ears: HearingPool | None,
        thread: RecordThread,
        limits: tuple[int, float],
    ) -> None:
        super().initialize(door)
        self._hub, self._taker, self._ears, self._thread = hub, taker, ears, thread
        self._largest, self._seconds = limits
        self._sound = bytearray()

    def prepare(self) -> None:
        """What is too large is refused by its length, before any of it is taken."""
        self.request.connection.set_max_body_size(self._largest)  # type: ignore[union-attr]
        super().prepare()
        if not self._finished and (self.phone is None or self.phone.role is not PhoneRole.OPERATOR):
            self.refuse(HTTPStatus.FORBIDDEN)

    def data_received(self, chunk: bytes) -> None:
        if not self._finished and len(self._sound) + len(chunk) <= self._largest:
            self._sound += chunk

    async def post(self) -> None:
        try:
            line = SentLine.model_validate_strings({name: self.get_query_argument(name) for name in FIELDS})
        except ValidationError:
            self.refuse(HTTPStatus.BAD_REQUEST)
            return
        settled = await self._settled(line)
        self.set_header("Content-Type", "application/json")
        self.finish(settled.model_dump_json())
        await self._hub.refresh()

    async def _settled(self, line: SentLine) -> SettledLine:
        assert self.phone is not None
        phone, do = self.phone.number, self._thread.do
        try:
            if known := await do(self._taker.known, line, phone):
                return known
            if self._ears is None:
                return await do(lambda: self._taker.unheard(line, PageKey.NO_EARS))
            from bot.hearing import FailedHearing

            language, grammar = await do(self._taker.ready)
            heard = await self._ears.hear(bytes(self._sound), language, grammar)
            if isinstance(heard, FailedHearing):
                key, seconds = WHY[heard.fault], f"{self._seconds:g}"
                return await do(lambda: self._taker.unheard(line, key, **key.only(count=seconds)))
            return await do(self._taker.heard, line, heard, phone, datetime.now(UTC))
        except WorldError:
            return SettledLine(id=line.id, how=Settlement.FAILED)
