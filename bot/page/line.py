"""The line to one phone that is in reach: what it says comes in, what stands goes out."""

from __future__ import annotations

import contextlib
import time
from datetime import UTC, datetime
from http import HTTPStatus
from typing import assert_never

from tornado.websocket import WebSocketClosedError, WebSocketHandler

from bot.page.hub import PhoneHub
from bot.page.talk import LineTaker
from bot.page.views.calls import PageCalls
from bot.page.views.messages import Beat, ShownCall, TypedLine, read_from_phone
from bot.page.visitors.door import PageDoor, PageHandler
from bot.page.visitors.phones import PhoneRole
from bot.record_thread import RecordThread
from engine.errors import RowhandError, WorldError

LARGEST_MESSAGE = 16_384
A_SECOND, AT_ONCE = 10.0, 40.0
"""So many messages a phone may send on the average, and in one burst after a silence (own decision)."""
GOING_AWAY, FORGOTTEN, TOO_MANY, NOT_UNDERSTOOD = 1001, 4001, 4002, 4003


class MessageAllowance:
    """How many messages are still taken now."""

    def __init__(self) -> None:
        self._left, self._at = AT_ONCE, time.monotonic()

    def takes(self) -> bool:
        now = time.monotonic()
        self._left = min(self._left + (now - self._at) * A_SECOND, AT_ONCE) - 1
        self._at = now
        return self._left >= 0


class LineHandler(PageHandler, WebSocketHandler):
    """A websocket. Host, nearness and pairing are looked at as for every request, Origin always."""

    def initialize(  # type: ignore[override]
        self, door: PageDoor, hub: PhoneHub, taker: LineTaker, calls: PageCalls, thread: RecordThread
    ) -> None:
        super().initialize(door)
        self._hub, self._taker, self._calls, self._thread = hub, taker, calls, thread
        self._allowance = MessageAllowance()

    def check_origin(self, origin: str) -> bool:  # noqa: ARG002
        return self.door.is_own(self.request)

    async def get(self, *given: object, **named: object) -> None:
        if not self.door.is_own(self.request):
            self.refuse(HTTPStatus.FORBIDDEN)
        elif self.phone and self._hub.is_full(self.phone):
            self.refuse(HTTPStatus.SERVICE_UNAVAILABLE)
        else:
            await super().get(*given, **named)

    async def open(self, *_: str, **__: str) -> None:
        assert self.phone is not None
        with contextlib.suppress(RowhandError):
            await self._thread.do(self.door.shelf.seen, self.phone.number, datetime.now(UTC))
        await self._hub.join(self)

    async def on_message(self, message: str | bytes) -> None:
        if not self._allowance.takes():
            self.close(TOO_MANY)
            return
        try:
            said = read_from_phone(message)
        except ValueError:
            self.close(NOT_UNDERSTOOD)
            return
        assert self.phone is not None
        if isinstance(said, Beat):
            self.send(said.model_dump_json())
            return
        if self.phone.role is not PhoneRole.OPERATOR:
            self.close(NOT_UNDERSTOOD)
            return
        match said:
            case TypedLine():
                settled = await self._thread.do(self._taker.typed, said, self.phone.number, datetime.now(UTC))
                self.send(settled.model_dump_json())
            case ShownCall(key=key):
                with contextlib.suppress(WorldError):
                    await self._thread.do(self._calls.shown, key)
            case _:
                assert_never(said)
        await self._hub.refresh()

    def on_close(self) -> None:
        self._hub.leave(self)

    def send(self, text: str) -> None:
        with contextlib.suppress(WebSocketClosedError):
            self.write_message(text)

    def drop(self, *, forgotten: bool) -> None:
        self.close(FORGOTTEN if forgotten else GOING_AWAY)
