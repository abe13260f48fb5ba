"""The Bot API over HTTP on this machine, for tests of the bot: it answers as the real one does, and complains."""

from __future__ import annotations

import asyncio
import random
from types import TracebackType
from typing import Any, Self

from aiohttp import web

from tests.helpers.telegram_server import webhook as hooks
from tests.helpers.telegram_server.account import TOKEN, Account, Chat
from tests.helpers.telegram_server.clock import Bell, Clock
from tests.helpers.telegram_server.fault import DOWNLOAD, Cut, Faults, Gateway, Half, Refused, Repeats, Shuffled, Silent
from tests.helpers.telegram_server.judge import Judge, judges
from tests.helpers.telegram_server.methods import Method, Methods
from tests.helpers.telegram_server.person import Person, World
from tests.helpers.telegram_server.refusal import Refusal, conflict
from tests.helpers.telegram_server.request import Call, read
from tests.helpers.telegram_server.sending import Sending
from tests.helpers.telegram_server.transcript import Transcript
from tests.helpers.telegram_server.update_queue import UpdateQueue, Waiting

POLL = frozenset({"offset", "limit", "timeout", "allowed_updates"})
LARGEST_REQUEST = 64 * 2**20


class TelegramServer:
    """``async with TelegramServer() as server``: at the end every complaint is an AssertionError.

    ``judging`` off is for load runs; ``webhook_pause`` is the first pause after a failed delivery, in seconds.
    """

    def __init__(self, *, judging: bool = True, webhook_pause: float = 0.05) -> None:
        self.clock, self.bell = Clock(), Bell()
        self.account, self.transcript = Account(self.clock), Transcript()
        self.updates, self.faults = UpdateQueue(self.clock, self.bell, self._judge_update), Faults()
        self.webhook = hooks.Webhook(self.updates, webhook_pause)
        self.judges: list[Judge] = judges() if judging else []
        self.complaints: list[str] = []
        self.calls: list[Call] = []
        self.methods = Methods(self.account, Sending(self.account, self.transcript)).table()
        self.own = {
            "getUpdates": POLL,
            "setWebhook": hooks.HEEDS,
            "deleteWebhook": frozenset({"drop_pending_updates"}),
            "getWebhookInfo": frozenset[str](),
        }
        self._poll = 0
        self._people: dict[tuple[int, int], Person] = {}
        self._runner: web.AppRunner | None = None
        self.url = ""

    @property
    def token(self) -> str:
        return TOKEN

    @property
    def base_url(self) -> str:
        """What a client takes as the address of the Bot API."""
        return f"{self.url}/bot"

    @property
    def base_file_url(self) -> str:
        return f"{self.url}/file/bot"

    def user(self, chat_id: int, name: str = "Operator", language: str = "en") -> Person:
        """A person in the private chat of this number."""
        return self._people.setdefault((chat_id, chat_id), Person(self._world(), chat_id, name, language))

    def member(self, group_id: int, user_id: int, name: str = "Operator", title: str = "Crew") -> Person:
        """A person in a group (its number is below zero); the bot is in it once somebody invited it."""
        self.account.chats.setdefault(group_id, Chat({"id": group_id, "type": "group", "title": title}))
        return self._people.setdefault((group_id, user_id), Person(self._world(), user_id, name, chat_id=group_id))

    def _world(self) -> World:
        return World(self.account, self.updates, self.transcript, self.bell)

    async def __aenter__(self) -> Self:
        app = web.Application(client_max_size=LARGEST_REQUEST)
        app.router.add_route("*", "/bot{token}/{method}", self._answer)
        app.router.add_get("/file/bot{token}/{path:.+}", self._download)
        self._runner = web.AppRunner(app, access_log=None, shutdown_timeout=0.1)
        await self._runner.setup()
        site = web.TCPSite(self._runner, "127.0.0.1", 0)
        await site.start()
        self.url = f"http://127.0.0.1:{self._runner.addresses[0][1]}"
        return self

    async def __aexit__(self, kind: type[BaseException] | None, error: Any, trace: TracebackType | None) -> None:
        await self.webhook.stop()
        if self._runner:
            await self._runner.cleanup()
        if kind is None and self.complaints:
            raise AssertionError("the bot or this server broke the Bot API:\n" + "\n".join(self.complaints))

    async def _answer(self, request: web.Request) -> web.StreamResponse:
        if self.faults.network_down:
            return _cut(request)
        if request.match_info["token"] != TOKEN:
            return _json(Refusal(401, "Unauthorized").body(), 401)
        try:
            call = await read(self._name(request.match_info["method"]), request)
        except Refusal as refusal:
            self.complaints.append(f"{request.match_info['method']}: {refusal.description}")
            return _json(refusal.body(), refusal.code)
        self.calls.append(call)
        fault = self.faults.take(call.method, call.chat_id)
        match fault:
            case Refused(planned):
                return _json(planned.body(), planned.code)
            case Gateway(code):
                return web.Response(status=code, text=f"<html><h1>{code}</h1></html>", content_type="text/html")
            case Cut(done=False):
                return _cut(request)
            case Silent(seconds, done=False):
                await asyncio.sleep(seconds)
                return _cut(request)
        response = await self._work(call, fault)
        if isinstance(fault, Silent):
            await asyncio.sleep(fault.seconds)
        return _cut(request) if isinstance(fault, Cut) or self.faults.network_down else response

    async def _work(self, call: Call, fault: object) -> web.Response:
        try:
            result = await self._result(call, fault)
        except Refusal as refusal:
            return _json(refusal.body(), refusal.code)
        finally:
            self.bell.ring()
        for judge in self.judges:
            self.complaints.extend(judge.result(call.method, result))
        return _json({"ok": True, "result": result}, 200)

    async def _result(self, call: Call, fault: object) -> Any:
        found = self.methods.get(call.method)
        heeds = found.heeds if found else self.own.get(call.method)
        if heeds is None:
            self.complaints.append(f"this server has no method {call.method}")
            raise Refusal(404, "Not Found: method not found")
        self._judge(call, heeds)
        match call.method:
            case "getUpdates":
                return await self._get_updates(call, fault)
            case "setWebhook":
                return await self.webhook.set(call)
            case "deleteWebhook":
                return await self.webhook.delete(call)
            case "getWebhookInfo":
                return self.webhook.info(call)
        assert isinstance(found, Method)
        return found.work(call)

    def _judge(self, call: Call, heeds: frozenset[str]) -> None:
        parameters = call.parameters | {name: f"attach://{name}" for name in call.uploads if name in heeds}
        self.complaints.extend(f"{call.method}: this server heeds no {name}" for name in parameters.keys() - heeds)
        for judge in self.judges:
            self.complaints.extend(judge.request(call.method, parameters))

    def _judge_update(self, update: dict[str, Any]) -> None:
        for judge in self.judges:
            self.complaints.extend(judge.update(update))

    def _name(self, method: str) -> str:
        """Methods are called in any case; the table's spelling is used."""
        names = {name.lower(): name for name in (*self.methods, *self.own)}
        return names.get(method.lower(), method)

    async def _get_updates(self, call: Call, fault: object) -> list[dict[str, Any]]:
        if self.webhook.url:
            raise conflict(
                "can't use getUpdates method while webhook is active; use deleteWebhook to delete the webhook first"
            )
        self._poll += 1
        number, end = self._poll, asyncio.get_running_loop().time() + call.get("timeout", 0)
        self.bell.ring()
        self.updates.allow(call.get("allowed_updates"))
        self.updates.confirm(call.get("offset", 0))
        limit = min(max(call.get("limit", 100), 1), 100)
        while not (batch := self.updates.batch(limit)) and (left := end - asyncio.get_running_loop().time()) > 0:
            await self.bell.wait(left)
            if number != self._poll:
                raise conflict(
                    "terminated by other getUpdates request; make sure that only one bot instance is running"
                )
        return [one.update for one in self._disturbed(batch, fault)]

    def _disturbed(self, batch: list[Waiting], fault: object) -> list[Waiting]:
        match fault:
            case Repeats(count):
                return [*self.updates.confirmed[-count:], *batch]
            case Shuffled(seed, within_chats):
                mixed = random.Random(seed).sample(batch, len(batch))
                return mixed if within_chats else _in_chat_order(mixed)
        return batch

    async def _download(self, request: web.Request) -> web.StreamResponse:
        content = self.account.linked(request.match_info["path"])
        fault = self.faults.take(DOWNLOAD)
        if self.faults.network_down or isinstance(fault, Cut):
            return _cut(request)
        if isinstance(fault, Gateway):
            return web.Response(status=fault.code)
        if content is None or request.match_info["token"] != TOKEN:
            return web.Response(status=404, text='{"ok":false,"error_code":404,"description":"Not Found"}')
        if isinstance(fault, Silent):
            await asyncio.sleep(fault.seconds)
        if not isinstance(fault, Half):
            return web.Response(body=content, content_type="application/octet-stream")
        response = web.StreamResponse()
        response.content_length = len(content)
        await response.prepare(request)
        await response.write(content[: len(content) // 2])
        return _cut(request)


def _in_chat_order(mixed: list[Waiting]) -> list[Waiting]:
    """The same mixture of queues, each queue's own updates in their order."""
    left = sorted(mixed, key=lambda one: one.update_id)
    ordered = []
    for place in mixed:
        one = next(one for one in left if one.queue == place.queue)
        left.remove(one)
        ordered.append(one)
    return ordered


def _json(body: dict[str, Any], status: int) -> web.Response:
    return web.json_response(body, status=status)


def _cut(request: web.Request) -> web.Response:
    """Break the line without an answer."""
    if request.transport:
        request.transport.abort()
    return web.Response()
