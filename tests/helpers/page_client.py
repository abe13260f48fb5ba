"""Requests to the page without a browser, and a line as a phone has one; every header as the test wants it."""

from __future__ import annotations

import http.client
import json
import secrets
import time
from dataclasses import dataclass, field
from typing import Any

from tornado.httpclient import HTTPRequest
from tornado.websocket import WebSocketClientConnection, websocket_connect

from bot.page.visitors.door import COOKIE
from bot.page.visitors.phones import PhoneRole
from tests.helpers.page_host import HERE, PageHost


@dataclass(frozen=True)
class PageAnswer:
    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode()


def ask(
    host: PageHost,
    path: str,
    method: str = "GET",
    body: bytes | None = None,
    *,
    token: str = "",
    **headers: str,
) -> PageAnswer:
    """One request; names of headers are given with underscores. Its own Origin goes with what changes anything."""
    given = {name.replace("_", "-"): value for name, value in headers.items()}
    if method != "GET":
        given.setdefault("Origin", host.address)
    if token:
        given["Cookie"] = f"{COOKIE}={token}"
    connection = http.client.HTTPConnection(HERE, host.port, timeout=30)
    try:
        connection.request(method, path, body=body, headers=given)
        answer = connection.getresponse()
        return PageAnswer(answer.status, dict(answer.getheaders()), answer.read())
    finally:
        connection.close()


def paired(host: PageHost, role: PhoneRole = PhoneRole.OPERATOR) -> str:
    """The token of a phone that is paired over the page itself."""
    answer = ask(host, "/pair", "POST", f"code={host.code(role)}".encode())
    assert answer.status == 303, answer.text
    return answer.headers["Set-Cookie"].partition(f"{COOKIE}=")[2].partition(";")[0]


@dataclass
class PhoneWire:
    """An open line. ``view`` is what stands on the phone; ``skew`` is how wrong its clock is, in milliseconds."""

    wire: WebSocketClientConnection
    skew: float = 0.0
    view: dict[str, Any] = field(default_factory=dict)

    @classmethod
    async def open(cls, host: PageHost, token: str, **headers: str) -> PhoneWire:
        given = {"Origin": host.address, "Cookie": f"{COOKIE}={token}"}
        given |= {name.replace("_", "-"): value for name, value in headers.items()}
        request = HTTPRequest(f"ws://{HERE}:{host.port}/line", headers=given)
        made = cls(await websocket_connect(request))
        made.view = await made.read("view", "planters")
        return made

    def clock(self) -> float:
        return time.time() * 1000 + self.skew

    async def read(self, *kinds: str) -> dict[str, Any]:
        """The next message of one of these kinds; what stands is taken from those before it."""
        while True:
            text = await self.wire.read_message()
            assert text is not None, "the line was closed"
            found: dict[str, Any] = json.loads(text)
            if found["kind"] in ("view", "planters"):
                self.view = found
            if found["kind"] in kinds:
                return found

    async def say(self, text: str, **about: object) -> dict[str, Any]:
        """Say something, and how it was settled."""
        now = self.clock()
        line = {"kind": "said", "id": secrets.token_hex(16), "at": now, "now": now, "seq": self.view["seq"]}
        self.wire.write_message(json.dumps({**line, "text": text, **about}))
        return await self.read("settled")

    async def stands(self, seq: int) -> dict[str, Any]:
        """The view after this turn."""
        while self.view["seq"] < seq:
            await self.read("view")
        return self.view

    def close(self) -> None:
        self.wire.close()
