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
from datetime import UTC, datetime, timedelta
from typing import Any

from tornado.httpserver import HTTPServer
from tornado.netutil import bind_sockets
from tornado.web import Application, HTTPError, RequestHandler, stream_request_body

from bot.telegram.updates.update import PREFIX
from engine.database import Database
from engine.errors import DatabaseError, WorldError
from engine.queues.queue_status import QueueStatus, standing

STUCK = timedelta(minutes=10)
"""So old may the oldest thing be that waits (common practice, no source)."""
MANY_ATTEMPTS = 20
"""So often may a message fail: about six minutes of trying."""
LOOK_S = 5.0


@dataclass(frozen=True)
class HealthReport:
    """What is told, JSON-ready and without words, names or secrets; ``reasons`` say why it is not well."""

    body: dict[str, Any]
    reasons: tuple[str, ...]


class Health:
    """Looks at the record when asked, one look at a time however many ask."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._look: asyncio.Task[QueueStatus] | None = None

    async def report(self) -> HealthReport:
        if self._look is None or self._look.done():
            now = datetime.now(UTC)
            self._look = asyncio.create_task(asyncio.to_thread(standing, self._database, now, PREFIX))
        try:
            found = await asyncio.wait_for(asyncio.shield(self._look), LOOK_S)
        except DatabaseError:
            return failed("the database fails")
        except TimeoutError:
            return failed(f"the database did not answer in {LOOK_S:g} s")
        except Exception as error:
            return failed(f"the database fails with {type(error).__name__}")
        return report(found, datetime.now(UTC))


def failed(reason: str) -> HealthReport:
    return HealthReport({"status": "failing", "reasons": [reason], "database": "failing"}, (reason,))


def report(found: QueueStatus, now: datetime) -> HealthReport:
    """The report on a look; ages are in seconds."""
    reasons = _reasons(found, now)
    body = {
        "status": "failing" if reasons else "ok",
        "reasons": list(reasons),
        "database": "ok",
        "inbox": {"waiting": found.received, "oldest_s": _age(found.oldest_received, now)},
        "outbox": {
            "due": found.due,
            "oldest_s": _age(found.oldest_due, now),
            "later": found.later,
            "attempts": found.attempts,
        },
        "last_update": found.last_received.isoformat(timespec="seconds") if found.last_received else None,
    }
    return HealthReport(body, reasons)


def _reasons(found: QueueStatus, now: datetime) -> tuple[str, ...]:
    said = f"for more than {STUCK.total_seconds() / 60:g} minutes"
    wrong = (
        (_is_stuck(found.oldest_received, now), f"an update waits {said}"),
        (_is_stuck(found.oldest_due, now), f"a message waits {said}"),
        (found.attempts >= MANY_ATTEMPTS, f"a message failed {found.attempts} times"),
    )
    return tuple(reason for is_so, reason in wrong if is_so)


def _is_stuck(since: datetime | None, now: datetime) -> bool:
    return since is not None and now - since > STUCK


def _age(since: datetime | None, now: datetime) -> float | None:
    return None if since is None else round(max((now - since).total_seconds(), 0.0), 1)


SECRET_HEADER = "X-Telegram-Bot-Api-Secret-Token"
HEALTH = "/health"
LARGEST_BYTES = 1_000_000
"""More than an update ever has: its text is 4096 characters, and its files are elsewhere."""
LARGEST_HEAD_BYTES = 16_384
BODY_S, IDLE_S, ANSWER_S = 20.0, 20.0, 20.0
"""``IDLE_S`` is also how long the head of a request may take."""
AGAIN_S = 2
TOLD_EACH_S = 10.0
LARGEST_NUMBER = 2**63
log = logging.getLogger("rowhand.telegram")


@dataclass(frozen=True)
class UpdateEndpoint:
    """Where updates are brought: the path, the secret to know, and what keeps an update."""

    path: str
    secret: str
    keep: Callable[[dict[str, Any]], Awaitable[None]]


class HttpServer:
    """A small web server; without a hatch it answers for its health alone."""

    def __init__(self, address: str, port: int, health: Health, hatch: UpdateEndpoint | None = None) -> None:
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
    def initialize(self, hatch: UpdateEndpoint, refused: Refused) -> None:
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
