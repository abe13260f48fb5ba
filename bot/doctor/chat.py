"""The chat server: whether it can be reached, knows the token, and what it says of the webhook."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import Any

import httpx

from bot.doctor.finding import Finding, note, ok, wrong
from bot.settings import Settings

PATIENCE_S = 5.0
DIFFERENCE_S = 30.0
RECENT_S = 3600.0
OFFLINE = "look at the network; talking at this computer works without it"


def examine(settings: Settings) -> Iterator[Finding]:
    """Ask nothing with the token before it is known that somebody is there."""
    with httpx.Client(timeout=PATIENCE_S) as client:
        try:
            answer = client.get(settings.telegram_url)
        except (httpx.HTTPError, httpx.InvalidURL) as error:
            yield from _unreachable(settings, error)
            return
        yield ok("network", f"{httpx.URL(settings.telegram_url).host} answers")
        yield from _difference(answer.headers.get("Date"))
        yield from _bot(settings, client)


def _unreachable(settings: Settings, error: Exception) -> Iterator[Finding]:
    told = f"the chat server cannot be reached: {_why(error)}"
    if settings.telegram_token is None:
        yield note("network", told, "only the chat needs it")
        yield _no_token()
    else:
        yield wrong("network", told, OFFLINE)
        yield note("chat", "not tried without a network")


def _why(error: Exception) -> str:
    if isinstance(error, httpx.TimeoutException):
        return f"no answer in {PATIENCE_S:g} s"
    if "Name or service" in str(error) or "name resolution" in str(error):
        return "its name is not found, this computer is perhaps offline"
    return f"no line ({type(error).__name__})"


def _difference(date: str | None) -> Iterator[Finding]:
    """The clock of this computer against that of the server."""
    try:
        there = parsedate_to_datetime(date or "")
    except ValueError:
        return
    seconds = (datetime.now(UTC) - there.astimezone(UTC)).total_seconds()
    if abs(seconds) > DIFFERENCE_S:
        side = "after" if seconds > 0 else "before"
        yield note("clock", f"{abs(seconds):.0f} s {side} that of the chat server", "let it be set from the network")


def _no_token() -> Finding:
    return note("chat", "no token is set", "set ROWHAND_TELEGRAM_TOKEN to answer in a chat")


def _bot(settings: Settings, client: httpx.Client) -> Iterator[Finding]:
    if settings.telegram_token is None:
        yield _no_token()
        return
    base = f"{settings.telegram_url.rstrip('/')}/bot{settings.telegram_token.get_secret_value()}"
    try:
        me = client.get(f"{base}/getMe")
        hook = client.get(f"{base}/getWebhookInfo")
        yield _known(me)
        if me.status_code == 200:
            yield from _webhook(settings, hook.json()["result"])
    except httpx.InvalidURL:
        yield wrong("chat", "the token has characters that no token has", "set ROWHAND_TELEGRAM_TOKEN again")
    except (httpx.HTTPError, ValueError, KeyError) as error:
        told = f"the chat server does not answer as one: {type(error).__name__}"
        yield wrong("chat", told, "look at ROWHAND_TELEGRAM_URL, or try again later")


def _known(answer: httpx.Response) -> Finding:
    match answer.status_code:
        case 200:
            return ok("chat", f"the token is that of @{answer.json()['result']['username']}")
        case 401 | 404:
            return wrong("chat", "the server does not know this token", "ask for it again and set it")
        case other:
            return wrong("chat", f"the server answers {other}", "try again later")


def _webhook(settings: Settings, info: dict[str, Any]) -> Iterator[Finding]:
    """What the server says of the address it brings updates to."""
    waiting = f"{info.get('pending_update_count', 0)} updates wait"
    if not info.get("url"):
        told = "is not set at the server now" if settings.webhook_url else "none, updates are asked for"
        yield ok("webhook", f"{told}, {waiting}")
    elif info["url"] != settings.webhook_url:
        told = f"the server brings updates to another address, {waiting}"
        yield note("webhook", told, "the next start changes that; look whether another program uses this token")
    elif info.get("last_error_message") and time.time() - info.get("last_error_date", 0) < RECENT_S:
        told = f"{waiting}; the server said lately: {info['last_error_message']}"
        yield note("webhook", told, "look whether the program runs and the proxy lets the server through")
    else:
        yield ok("webhook", f"set, {waiting}")
