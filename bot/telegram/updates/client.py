"""The client of the Bot API, as the settings say."""

from __future__ import annotations

import ssl
from functools import cache
from typing import Any

import httpx
from telegram import Bot
from telegram.request import HTTPXRequest

from bot.settings import Settings
from engine.errors import DefinitionError


@cache
def _certificates() -> ssl.SSLContext:
    """The authorities that are trusted, read once for all connections."""
    return httpx.create_ssl_context()


def http_request(**limits: Any) -> HTTPXRequest:
    """Connections to the Bot API, with the limits of ``HTTPXRequest``."""
    return HTTPXRequest(httpx_kwargs={"verify": _certificates()}, **limits)


def client(settings: Settings, request: HTTPXRequest, polling: HTTPXRequest) -> Bot:
    """A bot that sends by ``request`` and asks for updates by ``polling``; DefinitionError without a token."""
    if settings.telegram_token is None:
        raise DefinitionError("settings", "telegram_token", "is missing", "set ROWHAND_TELEGRAM_TOKEN")
    url = settings.telegram_url.rstrip("/")
    return Bot(
        settings.telegram_token.get_secret_value(),
        base_url=f"{url}/bot",
        base_file_url=f"{url}/file/bot",
        request=request,
        get_updates_request=polling,
    )
