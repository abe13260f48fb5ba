"""A call of the Bot API as it came over the wire: query, form, multipart or JSON, all the same to a method."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from aiohttp import web

from tests.helpers.telegram_server.refusal import bad_request


@dataclass(frozen=True)
class Upload:
    """A file that came with a call."""

    name: str
    content: bytes
    mime_type: str


@dataclass
class Call:
    """A method with its parameters, decoded to their types."""

    method: str
    parameters: dict[str, Any]
    uploads: dict[str, Upload] = field(default_factory=dict)

    def get(self, name: str, default: Any = None) -> Any:
        return self.parameters.get(name, default)

    @property
    def chat_id(self) -> Any:
        return self.parameters.get("chat_id")


def _whole(value: Any) -> int:
    return int(value)


def _truth(value: Any) -> bool:
    if isinstance(value, bool):
        return value
    return {"true": True, "1": True, "false": False, "0": False}[str(value).lower()]


def _structure(value: Any) -> Any:
    return json.loads(value) if isinstance(value, str) else value


def _chat(value: Any) -> int | str:
    return value if isinstance(value, str) and value.startswith("@") else int(value)


WHOLE = ("offset", "limit", "timeout", "message_id", "duration", "max_connections", "cache_time", "message_thread_id")
TRUTH = (
    "disable_notification",
    "protect_content",
    "drop_pending_updates",
    "show_alert",
    "disable_content_type_detection",
)
STRUCTURE = ("allowed_updates", "reply_markup", "reply_parameters", "link_preview_options", "commands", "scope")
DECODERS: dict[str, Callable[[Any], Any]] = {
    "chat_id": _chat,
    **dict.fromkeys(WHOLE, _whole),
    **dict.fromkeys(TRUTH, _truth),
    **dict.fromkeys(STRUCTURE, _structure),
}


def decode(method: str, raw: dict[str, Any], uploads: dict[str, Upload]) -> Call:
    """Each parameter in its type; a value that cannot be read is refused as the server does."""
    parameters: dict[str, Any] = {}
    for name, value in raw.items():
        try:
            parameters[name] = DECODERS.get(name, lambda text: text)(value)
        except (ValueError, KeyError):
            raise bad_request(f"can't parse {name}") from None
    return Call(method, parameters, uploads)


async def read(method: str, request: web.Request) -> Call:
    """Read a request whole."""
    raw: dict[str, Any] = dict(request.query)
    uploads: dict[str, Upload] = {}
    if request.content_type == "application/json":
        raw |= await request.json()
    else:
        for name, value in (await request.post()).items():
            if isinstance(value, web.FileField):
                uploads[name] = Upload(value.filename, value.file.read(), value.content_type)
            else:
                raw[name] = value
    return decode(method, raw, uploads)
