"""The address at which the channel can be reached: updates brought by the chat server, and a look at its health.

TLS is the work of a proxy in front. Whoever brings an update must know the secret: nobody else's request is read past
its head. A request has limits in size and in time.
"""

from __future__ import annotations

import asyncio
import hmac
import json
import logging
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Any

from tornado.httpserver import HTTPServer
from tornado.netutil import bind_sockets
from tornado.web import Application, HTTPError, RequestHandler, stream_request_body

from bot.telegram.health import Health
from engine.errors import WorldError

SECRET_HEADER = "X-Telegram-Bot-Api-Secret-Token"
HEALTH = "/health"
LARGEST_BYTES = 1_000_000
"""More than an update ever has: its text is 4096 characters, and its files are elsewhere."""
LARGEST_HEAD_BYTES = 16_384
BODY_S, IDLE_S, ANSWER_S = 20.0, 75.0, 20.0
AGAIN_S = 2
TOLD_EACH_S = 10.0
LARGEST_NUMBER = 2**63
log = logging.getLogger("rowhand.telegram")


@dataclass(frozen=True)
class Hatch:
    """Where updates are brought: the path, the secret to know, and what keeps an update."""

    path: str
    secret: str
    keep: Callable[[dict[str, Any]], Awaitable[None]]


class Door:
    """A small web server; without a hatch it answers for its health alone."""

    def __init__(self, address: str, port: int, health: Health, hatch: Hatch | None = None) -> None:
        self._address, self._wanted = address, port
        routes: list[Any] = [(HEALTH, _Look, {"health": health})]
        if hatch:
            routes.append((hatch.path, _Bring, {"hatch": hatch, "refused": Refused()}))
        app = Application(routes, default_handler_class=_Nothing, log_function=lambda _handler: None)
        self._server = HTTPServer(
            app,
            max_body_size=LARGEST_BYTES,
            max_header_size=LARGEST_HEAD_BYTES,
            body_timeout=BODY_S,
            idle_connection_timeout=IDLE_S,
        )
        self.port = 0

    def open(self) -> None:
        """Listen; raises WorldError where the address cannot be had."""
        try:
            sockets = bind_sockets(self._wanted, self._address)
        except OSError as error:
            place = f"{self._address} port {self._wanted}"
            raise WorldError(f"cannot listen on {place}: {error.strerror}; another program may use it") from error
        self.port = int(sockets[0].getsockname()[1])
        self._server.add_sockets(sockets)
        log.info("door open port=%d", self.port)

    async def close(self) -> None:
        self._server.stop()
        await self._server.close_all_connections()


class Refused:
    """Counts requests without the secret, and tells of them now and then."""

    def __init__(self) -> None:
        self._count, self._told = 0, float("-inf")

    def one(self) -> None:
        self._count += 1
        if time.monotonic() - self._told >= TOLD_EACH_S:
            log.warning("webhook refused requests=%d", self._count)
            self._count, self._told = 0, time.monotonic()


class _Plain(RequestHandler):
    """Answers that say nothing about the program."""

    def set_default_headers(self) -> None:
        self.clear_header("Server")
        self.set_header("Cache-Control", "no-store")

    def compute_etag(self) -> None:
        return None

    def write_error(self, status_code: int, **_known: Any) -> None:  # noqa: ARG002
        self.finish()

    def log_exception(self, kind: Any, error: BaseException | None, _trace: Any) -> None:  # noqa: ARG002
        if not isinstance(error, HTTPError):
            log.error("request broke error=%s", type(error).__name__)


class _Nothing(_Plain):
    def prepare(self) -> None:
        raise HTTPError(404)


class _Look(_Plain):
    def initialize(self, health: Health) -> None:
        self._health = health

    async def get(self) -> None:
        report = await self._health.report()
        self.set_status(503 if report.reasons else 200)
        self.write(report.body)


@stream_request_body
class _Bring(_Plain):
    def initialize(self, hatch: Hatch, refused: Refused) -> None:
        self._hatch, self._refused = hatch, refused
        self._body = bytearray()

    def prepare(self) -> None:
        """Before anything is read but the head."""
        given = self.request.headers.get(SECRET_HEADER, "")
        if not hmac.compare_digest(given.encode(errors="replace"), self._hatch.secret.encode()):
            self._refused.one()
            raise HTTPError(403)
        if self.request.method != "POST":
            raise HTTPError(405)
        if int(self.request.headers.get("Content-Length", 0)) > LARGEST_BYTES:
            raise HTTPError(413)

    def data_received(self, chunk: bytes) -> None:
        self._body += chunk

    async def post(self) -> None:
        update = parsed(bytes(self._body))
        if update is None:
            raise HTTPError(400)
        try:
            await asyncio.wait_for(self._hatch.keep(update), ANSWER_S)
        except (WorldError, TimeoutError):
            self.set_status(503)
            self.set_header("Retry-After", str(AGAIN_S))


def parsed(body: bytes) -> dict[str, Any] | None:
    """The update, None where it is none that can be kept."""
    try:
        found = json.loads(body.decode("utf-8"), parse_constant=_refuse)
        json.dumps(found, ensure_ascii=False).encode("utf-8")
    except (ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) and _is_number(found.get("update_id")) else None


def _is_number(given: object) -> bool:
    return isinstance(given, int) and not isinstance(given, bool) and 0 <= given < LARGEST_NUMBER


def _refuse(name: str) -> None:
    raise ValueError(name)
