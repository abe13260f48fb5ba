"""Pairing a phone: a code from the computer's screen, typed once; wrong ones are limited."""

from __future__ import annotations

import asyncio
import logging
import math
from collections import deque
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http import HTTPStatus

from tornado.web import stream_request_body

from bot.page.texts import PageKey
from bot.page.visitors.door import COOKIE, COOKIE_DAYS, PageDoor, PageHandler
from bot.page.visitors.phones import CODE_DIGITS
from engine.errors import RowhandError

LARGEST_FORM = 1_000
log = logging.getLogger("rowhand.page")
WITHIN = timedelta(minutes=10)
FROM_ONE, IN_ALL = 5, 20
"""So many wrong codes are taken in that time: of a hundred million codes the chance is one in five million (own
decision)."""


@dataclass
class WrongCodes:
    """The wrong codes of the last ten minutes."""

    _times: deque[tuple[datetime, str]] = field(default_factory=deque)

    def wait(self, address: str, now: datetime) -> timedelta:
        """How long this address must wait before a code of it is looked at; nothing where it need not."""
        while self._times and now - self._times[0][0] >= WITHIN:
            self._times.popleft()
        mine = [at for at, whose in self._times if whose == address]
        until = [mine[-FROM_ONE] + WITHIN] if len(mine) >= FROM_ONE else []
        until += [self._times[-IN_ALL][0] + WITHIN] if len(self._times) >= IN_ALL else []
        return max((one - now for one in until), default=timedelta())

    def wrong(self, address: str, now: datetime) -> None:
        self._times.append((now, address))

    def right(self, address: str) -> None:
        """What was counted before it was looked at was no wrong one."""
        for place in range(len(self._times) - 1, -1, -1):
            if self._times[place][1] == address:
                del self._times[place]
                return


@stream_request_body
class PairingHandler(PageHandler):
    """The page on which a code is typed, and what takes it."""

    needs_phone = False

    def initialize(self, door: PageDoor, wrong: WrongCodes) -> None:  # type: ignore[override]
        super().initialize(door)
        self._wrong, self._body = wrong, bytearray()

    def prepare(self) -> None:
        self.request.connection.set_max_body_size(LARGEST_FORM)  # type: ignore[union-attr]
        super().prepare()

    def data_received(self, chunk: bytes) -> None:
        if len(self._body) + len(chunk) <= LARGEST_FORM:
            self._body += chunk

    async def get(self) -> None:
        code = self.get_query_argument("code", "")
        self._show("", code if code.isascii() and code.isdigit() and len(code) == CODE_DIGITS else "")

    async def post(self) -> None:
        now, address = datetime.now(UTC), self.request.remote_ip or ""
        left = self._wrong.wait(address, now)
        if left:
            self.set_status(HTTPStatus.TOO_MANY_REQUESTS)
            self.set_header("Retry-After", str(math.ceil(left.total_seconds())))
            minutes = str(math.ceil(left.total_seconds() / 60))
            self._show(self.door.texts.say(PageKey.PAIR_WAIT, self.door.language, minutes=minutes))
            return
        self._wrong.wrong(address, now)
        try:
            paired = await asyncio.to_thread(self.door.shelf.pair, self._code(), now)
        except RowhandError as error:
            log.warning("pairing failed error=%s", type(error).__name__)
            paired = None
        if paired is None:
            self.set_status(HTTPStatus.FORBIDDEN)
            self._show(self.door.texts.say(PageKey.PAIR_WRONG, self.door.language))
            return
        self._wrong.right(address)
        phone, token = paired
        log.info("paired phone=%d role=%s", phone.number, phone.role)
        self.set_cookie(COOKIE, token, expires_days=COOKIE_DAYS, httponly=True, samesite="Lax")
        self.redirect("/", status=HTTPStatus.SEE_OTHER)

    def _code(self) -> str:
        """The digits of the field; people write them in groups."""
        text = self._body.decode("ascii", "replace")
        fields = dict(part.partition("=")[::2] for part in text.split("&"))
        return "".join(one for one in fields.get("code", "") if one.isdigit())[:CODE_DIGITS]

    def _show(self, told: str, code: str = "") -> None:
        language = self.door.language
        keys = (PageKey.PAIR_TITLE, PageKey.PAIR_HOW, PageKey.PAIR_CODE, PageKey.PAIR)
        texts = {str(key): self.door.texts.say(key, language) for key in keys}
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.finish(self.door.files.page("pair.html", {**texts, "told": told, "code": code}, language))
