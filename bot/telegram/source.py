"""Where the channel gets its updates from, by its settings."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import partial
from typing import Protocol, assert_never
from urllib.parse import urlsplit

from telegram import Bot

from bot.settings import Settings
from bot.telegram.health import Health
from bot.telegram.http_server import Door, Hatch
from bot.telegram.intake import Intake
from bot.telegram.poller import Poller
from bot.telegram.webhook import Webhook
from engine.errors import DefinitionError
from engine.inbox import Inbox, Incoming


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
    door: Door

    async def run(self) -> None:
        self.door.open()
        try:
            await self.source.run()
        finally:
            await self.door.close()


def source(
    settings: Settings, way: UpdateWay, bot: Bot, inbox: Inbox, take: Callable[[Sequence[Incoming]], None]
) -> Source:
    """What brings updates this way; raises DefinitionError where a webhook has no address."""
    door = partial(Door, settings.listen_address, settings.listen_port, Health(inbox.database))
    match way:
        case UpdateWay.POLLING:
            return Poller(bot, inbox, take)
        case UpdateWay.POLLING_WITH_HEALTH:
            return Watched(Poller(bot, inbox, take), door())
        case UpdateWay.WEBHOOK:
            url, secret = _address(settings)
            intake = Intake(inbox, take)
            return Webhook(bot, door(Hatch(urlsplit(url).path, secret, intake.keep)), intake, url, secret)
        case other:
            assert_never(other)


def _address(settings: Settings) -> tuple[str, str]:
    """Where updates are brought, and the secret that proves who brings them."""
    if settings.webhook_url is None:
        raise DefinitionError("settings", "webhook_url", "is missing", "set ROWHAND_WEBHOOK_URL")
    given = settings.webhook_secret
    return settings.webhook_url, given.get_secret_value() if given else secrets.token_urlsafe(32)
