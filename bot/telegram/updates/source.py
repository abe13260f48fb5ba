"""Where the channel gets its updates from, by its settings: asked for, or brought by the chat server."""

from __future__ import annotations

import asyncio
import logging
import secrets
import warnings
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from functools import partial
from typing import Any, Protocol, TypeVar, assert_never
from urllib.parse import urlsplit

from telegram import Bot
from telegram.error import BadRequest, EndPointNotFound, InvalidToken, TelegramError
from telegram.warnings import PTBUserWarning

from bot.settings import Settings
from bot.telegram.background import together
from bot.telegram.updates.backoff import Backoff
from bot.telegram.updates.http_server import Health, HttpServer, UpdateEndpoint
from bot.telegram.updates.intake import Intake, Store
from bot.telegram.updates.update import KINDS, incoming
from engine.database import Database
from engine.errors import DefinitionError, WorldError

log = logging.getLogger("rowhand.telegram")


POLL_S, MARGIN_S = 25, 10


def _unknown_token() -> DefinitionError:
    mend = "ask for it again and set it"
    return DefinitionError("settings", "telegram_token", "the server does not know this token", mend)


class Poller:
    """Asks the server for updates for ever, and keeps them."""

    def __init__(self, bot: Bot, store: Store) -> None:
        self._bot, self._store = bot, store
        self._offset: int | None = None
        self._patience = Backoff()

    async def run(self) -> None:
        """Raises DefinitionError when the server does not know the token; any other trouble is waited out."""
        while True:
            try:
                await self._round()
                self._patience.reset()
            except (InvalidToken, EndPointNotFound) as error:
                raise _unknown_token() from error
            except (TelegramError, WorldError) as error:
                seconds = self._patience.next(error)
                log.warning("poll failed error=%s wait_s=%.1f", type(error).__name__, seconds)
                await asyncio.sleep(seconds)

    async def _round(self) -> None:
        if self._offset is None:
            await self._bot.delete_webhook()
            self._offset = 0
        raw = await self._fetch(self._offset)
        if not raw:
            return
        now = datetime.now(UTC)
        fresh = await self._store([incoming(one, now) for one in raw])
        self._offset = max(int(one["update_id"]) for one in raw) + 1
        log.info("received updates=%d new=%d", len(raw), len(fresh))

    async def _fetch(self, offset: int) -> list[dict[str, Any]]:
        asked = {"offset": offset, "timeout": POLL_S, "allowed_updates": list(KINDS)}
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", PTBUserWarning)
            found: list[dict[str, Any]] = await self._bot.do_api_request(
                "getUpdates", api_kwargs=asked, read_timeout=POLL_S + MARGIN_S
            )
        return found


CONNECTIONS = 10
"""How many updates the server may bring at once; those of one chat come one after another anyway."""
WATCH_S = 60.0
FAREWELL_S = 5.0
T = TypeVar("T")


@dataclass(frozen=True)
class Webhook:
    """Tells the server our address while it runs. What is sent while nobody listens waits there for a day."""

    bot: Bot
    door: HttpServer
    intake: Intake
    url: str
    secret: str

    async def run(self) -> None:
        """Raises DefinitionError when the server knows neither token nor address, WorldError without a port."""
        self.door.open()
        try:
            await together((self.intake.run(), self._stay()))
        finally:
            await self._leave()

    async def _stay(self) -> None:
        """Give our address, and give it again where somebody took it away."""
        is_first = True
        while True:
            await self._patient(self._give, is_first)
            is_first = False
            log.info("webhook set")
            while await self._patient(self._given) == self.url:
                await asyncio.sleep(WATCH_S)
            log.warning("webhook lost")

    async def _give(self) -> None:
        await self.bot.set_webhook(
            self.url, secret_token=self.secret, allowed_updates=list(KINDS), max_connections=CONNECTIONS
        )

    async def _given(self) -> str:
        info = await self.bot.get_webhook_info()
        log.info("webhook pending=%d failing=%s", info.pending_update_count, info.last_error_date is not None)
        return info.url

    async def _patient(self, ask: Callable[[], Awaitable[T]], refusal_ends: bool = False) -> T:
        patience = Backoff()
        while True:
            try:
                return await ask()
            except (InvalidToken, EndPointNotFound) as error:
                raise _unknown_token() from error
            except TelegramError as error:
                if refusal_ends and isinstance(error, BadRequest):
                    said = f"the server refuses it: {error.message}"
                    raise DefinitionError("settings", "webhook_url", said, "set a public https address") from error
                seconds = patience.next(error)
                log.warning("webhook failed error=%s wait_s=%.1f", type(error).__name__, seconds)
                await asyncio.sleep(seconds)

    async def _leave(self) -> None:
        """Close, and take our address back, so that the server need not try it; what waits there is kept."""
        await self.door.close()
        try:
            await asyncio.wait_for(self.bot.delete_webhook(drop_pending_updates=False), FAREWELL_S)
        except (TelegramError, TimeoutError) as error:
            log.warning("webhook left error=%s", type(error).__name__)


class UpdateWay(StrEnum):
    """How updates come."""

    POLLING = "polling"
    POLLING_WITH_HEALTH = "polling with health"
    WEBHOOK = "webhook"


class Source(Protocol):
    """Where updates come from, for ever."""

    async def run(self) -> None: ...


@dataclass(frozen=True)
class Watched:
    """Another source, beside a door that tells how the channel is."""

    source: Source
    door: HttpServer

    async def run(self) -> None:
        self.door.open()
        try:
            await self.source.run()
        finally:
            await self.door.close()


def source(settings: Settings, way: UpdateWay, bot: Bot, record: Database, store: Store) -> Source:
    """What brings updates this way; raises DefinitionError where a webhook has no address."""
    door = partial(HttpServer, settings.listen_address, settings.listen_port, Health(record))
    match way:
        case UpdateWay.POLLING:
            return Poller(bot, store)
        case UpdateWay.POLLING_WITH_HEALTH:
            return Watched(Poller(bot, store), door())
        case UpdateWay.WEBHOOK:
            url, secret = _address(settings)
            intake = Intake(store)
            return Webhook(bot, door(UpdateEndpoint(urlsplit(url).path, secret, intake.keep)), intake, url, secret)
        case other:
            assert_never(other)


def _address(settings: Settings) -> tuple[str, str]:
    """Where updates are brought, and the secret that proves who brings them."""
    if settings.webhook_url is None:
        raise DefinitionError("settings", "webhook_url", "is missing", "set ROWHAND_WEBHOOK_URL")
    given = settings.webhook_secret
    return settings.webhook_url, given.get_secret_value() if given else secrets.token_urlsafe(32)
