"""Delivery to the bot's own address: each queue strictly in order, the next only after a 2xx for the one before."""

from __future__ import annotations

import asyncio
import contextlib
import ipaddress
import re
from typing import Any
from urllib.parse import urlsplit

import aiohttp

from tests.helpers.telegram_server.refusal import bad_request
from tests.helpers.telegram_server.request import Call
from tests.helpers.telegram_server.update_queue import UpdateQueue, Waiting

SECRET_HEADER = "X-Telegram-Bot-Api-Secret-Token"
HEEDS = frozenset({"url", "secret_token", "max_connections", "allowed_updates", "drop_pending_updates"})
LONGEST_PAUSE = 60.0


class Webhook:
    """setWebhook, deleteWebhook, getWebhookInfo, and the posts that follow from them.

    The answer to each of the next ``repeats`` posts counts as lost, so that its update is brought once more.
    """

    def __init__(self, updates: UpdateQueue, pause: float) -> None:
        self.updates, self.pause = updates, pause
        self.url, self.secret, self.connections = "", "", 40
        self.error: tuple[int, str] | None = None
        self.answers: list[int] = []
        self.repeats = 0
        self._queues: dict[int, asyncio.Task[None]] = {}
        self._runner: asyncio.Task[None] | None = None

    async def set(self, call: Call) -> bool:
        url, secret = str(call.get("url", "")), str(call.get("secret_token", ""))
        if url and not _on_this_machine(url):
            raise bad_request("bad webhook: this server posts to this machine only")
        if secret and not re.fullmatch(r"[A-Za-z0-9_-]{1,256}", secret):
            raise bad_request("secret token contains unallowed characters")
        connections = call.get("max_connections", 40)
        if not 1 <= connections <= 100:
            raise bad_request("max_connections is out of range")
        await self.stop()
        self.updates.allow(call.get("allowed_updates"))
        if call.get("drop_pending_updates"):
            self.updates.drop()
        self.url, self.secret, self.connections, self.error = url, secret, connections, None
        if url:
            self._runner = asyncio.create_task(self._run())
        return True

    async def delete(self, call: Call) -> bool:
        await self.stop()
        self.url, self.secret = "", ""
        if call.get("drop_pending_updates"):
            self.updates.drop()
        return True

    def info(self, _call: Call) -> dict[str, Any]:
        found: dict[str, Any] = {
            "url": self.url,
            "has_custom_certificate": False,
            "pending_update_count": len(self.updates.living()),
        }
        if self.url:
            found |= {"max_connections": self.connections, "ip_address": "127.0.0.1"}
        if self.error:
            found |= {"last_error_date": self.error[0], "last_error_message": self.error[1]}
        if self.updates.allowed:
            found["allowed_updates"] = sorted(self.updates.allowed)
        return found

    async def stop(self) -> None:
        tasks = [*self._queues.values(), *([self._runner] if self._runner else [])]
        for task in tasks:
            task.cancel()
        for task in tasks:
            with contextlib.suppress(asyncio.CancelledError):
                await task
        self._queues.clear()
        self._runner = None

    async def _run(self) -> None:
        """Give every queue that holds something a task of its own."""
        limit = asyncio.Semaphore(self.connections)
        async with aiohttp.ClientSession(timeout=aiohttp.ClientTimeout(total=60)) as session:
            while True:
                for queue in list(self.updates.queues):
                    if queue not in self._queues or self._queues[queue].done():
                        self._queues[queue] = asyncio.create_task(self._deliver(queue, session, limit))
                await self.updates.bell.wait(0.5)

    async def _deliver(self, queue: int, session: aiohttp.ClientSession, limit: asyncio.Semaphore) -> None:
        pause = self.pause
        while first := self.updates.first(queue):
            async with limit:
                wait = await self._post(first, session)
            if wait is None:
                self.updates.done(first.update_id)
                pause = self.pause
            else:
                await asyncio.sleep(wait or pause)
                pause = min(2 * pause, LONGEST_PAUSE)

    async def _post(self, one: Waiting, session: aiohttp.ClientSession) -> float | None:
        """None when the bot took it, else how long it asks to wait (0 when it does not say)."""
        headers = {SECRET_HEADER: self.secret} if self.secret else {}
        try:
            async with session.post(self.url, json=one.update, headers=headers) as response:
                await response.read()
                self.answers.append(response.status)
                if 200 <= response.status < 300 and not self.repeats:
                    return None
                if 200 <= response.status < 300:
                    self.repeats -= 1
                    return 0
                self._failed(f"Wrong response from the webhook: {response.status} {response.reason}")
                return float(response.headers.get("Retry-After", 0))
        except (aiohttp.ClientError, TimeoutError) as error:
            self._failed(f"Connection failed: {type(error).__name__}")
            return 0

    def _failed(self, why: str) -> None:
        self.error = (int(self.updates.clock.now()), why)


def _on_this_machine(url: str) -> bool:
    host = urlsplit(url).hostname or ""
    with contextlib.suppress(ValueError):
        return ipaddress.ip_address(host).is_loopback
    return host == "localhost"
