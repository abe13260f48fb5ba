"""The server of the page: its addresses, and the loop that looks at the record for all phones together."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import logging
from collections.abc import Callable
from dataclasses import dataclass
from http import HTTPStatus
from typing import TYPE_CHECKING

from tornado.httpserver import HTTPServer
from tornado.netutil import bind_sockets
from tornado.web import Application

from bot.page.hub import PhoneHub
from bot.page.line import LARGEST_MESSAGE, LineHandler
from bot.page.recording import RecordingHandler
from bot.page.talk import LineTaker
from bot.page.texts import PageTexts
from bot.page.views.calls import PageCalls
from bot.page.views.papers import PaperDesk, pages_of, picture_of
from bot.page.visitors.door import NothingHere, PageDoor, PageHandler
from bot.page.visitors.files import OPEN_TO_ALL
from bot.page.visitors.pairing import PairingHandler, WrongCodes
from bot.record_thread import RecordThread
from engine.errors import RowhandError, WorldError

if TYPE_CHECKING:
    from bot.hearing import HearingPool

LOOK_S = 0.5
FORGET_EACH = 4
"""After so many looks at the record it is looked which phones were removed."""
LARGEST_HEAD, LARGEST_BODY = 16_384, 65_536
BODY_S, IDLE_S, PING_S = 60.0, 120.0, 15.0
KEPT_FOR_S = 30 * 86_400
"""So long the page opens on a phone without this computer in reach: what was not sent is on the phone."""
PAPER_KINDS = {"png": ("image/png", picture_of), "pdf": ("application/pdf", pages_of)}
log = logging.getLogger("rowhand.page")


@dataclass(frozen=True)
class PageParts:
    """What the addresses are made of. ``limits`` are bytes and seconds of a recording."""

    door: PageDoor
    hub: PhoneHub
    taker: LineTaker
    calls: PageCalls
    papers: PaperDesk
    ears: HearingPool | None
    thread: RecordThread
    limits: tuple[int, float]


class StartHandler(PageHandler):
    """The page itself for a paired phone; for any other the way to be paired."""

    needs_phone = False

    def initialize(self, door: PageDoor, taker: LineTaker, thread: RecordThread) -> None:  # type: ignore[override]
        super().initialize(door)
        self._taker, self._thread = taker, thread

    async def get(self) -> None:
        if self.phone is None:
            self.redirect("/pair", status=HTTPStatus.SEE_OTHER)
            return
        try:
            language = await self._thread.do(lambda: self._taker.language)
        except WorldError:
            language = self.door.language
        texts = PageTexts.load().for_phone(language)
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.set_header("Cache-Control", f"private, max-age={KEPT_FOR_S}")
        self.set_header("Vary", "Cookie")
        role = f"{self.phone.role}"
        self.finish(self.door.files.page("page.html", {**texts, "role": role}, language))


class SiteHandler(PageHandler):
    """One of the files, by its name and nothing that looks like a way to another place."""

    needs_phone = False

    def get(self, _version: str, name: str) -> None:
        file = self.door.files.files.get(name)
        if self.phone is None and name not in OPEN_TO_ALL:
            self.refuse(HTTPStatus.FORBIDDEN)
        elif file is None:
            self.refuse(HTTPStatus.NOT_FOUND)
        else:
            self.set_header("Content-Type", file.kind)
            self.set_header("Cache-Control", f"private, max-age={KEPT_FOR_S}, immutable")
            self.finish(file.content)


class PaperHandler(PageHandler):
    """A paper in words, or drawn."""

    def initialize(self, door: PageDoor, papers: PaperDesk, thread: RecordThread) -> None:  # type: ignore[override]
        super().initialize(door)
        self._papers, self._thread = papers, thread

    async def get(self, name: str, kind: str) -> None:
        try:
            paper = await self._thread.do(self._papers.named, name)
            if paper is None or (kind != "json" and paper.drawing is None):
                self.refuse(HTTPStatus.NOT_FOUND)
            elif kind == "json":
                links = await self._thread.do(self._papers.links, name, paper)
                self.set_header("Content-Type", "application/json")
                self.finish(links.model_dump_json())
            else:
                content_type, paint = PAPER_KINDS[kind]
                drawn = await asyncio.to_thread(paint, paper.drawing)  # type: ignore[arg-type]
                self.set_header("Content-Type", content_type)
                self.set_header("Content-Disposition", f'inline; filename="rowhand-{name}.{kind}"')
                self.finish(drawn)
        except (RowhandError, ModuleNotFoundError) as error:
            log.warning("paper failed error=%s", type(error).__name__)
            self.refuse(HTTPStatus.SERVICE_UNAVAILABLE)


def application(parts: PageParts) -> Application:
    """Every address of the page."""
    door = {"door": parts.door}
    taking = {**door, "hub": parts.hub, "taker": parts.taker, "thread": parts.thread}
    papers = {**door, "papers": parts.papers, "thread": parts.thread}
    ears = {**taking, "ears": parts.ears, "limits": parts.limits}
    return Application(
        [
            (r"/", StartHandler, {**door, "taker": parts.taker, "thread": parts.thread}),
            (r"/pair", PairingHandler, {**door, "wrong": WrongCodes()}),
            (r"/line", LineHandler, {**taking, "calls": parts.calls}),
            (r"/recording", RecordingHandler, ears),
            (r"/site/([0-9a-f]{16})/([a-z][a-z.-]{0,40})", SiteHandler, door),
            (r"/paper/([a-z0-9-]{1,20})\.(json|png|pdf)", PaperHandler, papers),
        ],
        default_handler_class=NothingHere,
        default_handler_args=door,
        port=parts.door.port,
        bound=parts.door.bound,
        websocket_max_message_size=LARGEST_MESSAGE,
        websocket_ping_interval=PING_S,
        websocket_ping_timeout=PING_S,
        log_function=lambda _: None,
    )


class PageServer:
    """Serves until stopped. ``make`` gives the parts for the port that was really taken."""

    def __init__(self, address: str, port: int, make: Callable[[int], PageParts]) -> None:
        try:
            self._sockets = bind_sockets(port, address)
        except (OSError, UnicodeError) as error:
            raise WorldError(f"the page cannot be served at {address or 'this computer'}:{port}: {error}") from error
        self.port: int = self._sockets[0].getsockname()[1]
        self.parts = make(self.port)

    async def run(self, stopped: asyncio.Event) -> None:
        server = HTTPServer(
            application(self.parts),
            max_header_size=LARGEST_HEAD,
            max_body_size=LARGEST_BODY,
            body_timeout=BODY_S,
            idle_connection_timeout=IDLE_S,
        )
        server.add_sockets(self._sockets)
        looking = asyncio.create_task(self._look())
        try:
            await stopped.wait()
        finally:
            looking.cancel()
            server.stop()
            self.parts.hub.close()
            await server.close_all_connections()
            with contextlib.suppress(WorldError):
                await self.parts.thread.do(self.parts.calls.release)
            self.parts.thread.close()
            if self.parts.ears:
                self.parts.ears.close()

    async def _look(self) -> None:
        for count in itertools.count():
            try:
                await self.parts.hub.refresh()
                if count % FORGET_EACH == 0:
                    await self.parts.hub.drop_forgotten()
            except RowhandError as error:
                log.warning("look failed error=%s", type(error).__name__)
            await asyncio.sleep(LOOK_S)
