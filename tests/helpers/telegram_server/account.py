"""The bot's account as the server keeps it: chats, messages, files and the command menu."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from tests.helpers.telegram_server.clock import Clock
from tests.helpers.telegram_server.refusal import bad_request, forbidden

TOKEN = "123456789:TESTtestTESTtestTESTtestTESTtestTES"
BOT = {
    "id": 123456789,
    "is_bot": True,
    "first_name": "Rowhand",
    "username": "rowhand_test_bot",
    "can_join_groups": True,
    "can_read_all_group_messages": False,
    "supports_inline_queries": False,
    "can_connect_to_business": False,
    "has_main_web_app": False,
}
LARGEST_DOWNLOAD = 20 * 2**20
LINK_LIFE = 3600.0

Message = dict[str, Any]


@dataclass
class Stored:
    """A file, and until when its present link works."""

    content: bytes
    name: str
    mime_type: str
    link_until: float = 0.0


@dataclass
class Chat:
    """A private chat or a group; the bot may write where somebody let it in."""

    content: dict[str, Any]
    open: bool = False
    blocked: bool = False


@dataclass
class Account:
    """All state but the updates that wait."""

    clock: Clock
    chats: dict[int, Chat] = field(default_factory=dict)
    messages: dict[tuple[int, int], Message] = field(default_factory=dict)
    files: dict[str, Stored] = field(default_factory=dict)
    callbacks: dict[str, float] = field(default_factory=dict)
    answered: dict[str, dict[str, Any]] = field(default_factory=dict)
    commands: dict[tuple[str, str], list[dict[str, str]]] = field(default_factory=dict)
    actions: list[tuple[int, str]] = field(default_factory=list)
    _last_message: int = 0
    _last_file: int = 0

    def date(self) -> int:
        return int(self.clock.now())

    def new_message(self, chat_id: int, sender: dict[str, Any], **content: Any) -> Message:
        """Number a message and keep it; what is None is left out."""
        self._last_message += 1
        head = {
            "message_id": self._last_message,
            "from": sender,
            "chat": self.chats[chat_id].content,
            "date": self.date(),
        }
        message = head | {name: value for name, value in content.items() if value is not None}
        self.messages[chat_id, self._last_message] = message
        return message

    def writable(self, chat_id: object) -> int:
        """The chat if the bot may write there."""
        chat = self.chats.get(chat_id) if isinstance(chat_id, int) else None
        if chat is None or not (chat.open or chat.blocked):
            raise bad_request("chat not found")
        if chat.blocked:
            raise forbidden() if chat.content["type"] == "private" else forbidden("bot was kicked from the group chat")
        number: int = chat.content["id"]
        return number

    def own_message(self, chat_id: object, message_id: object) -> Message:
        """A message that the bot itself sent, to be changed."""
        place = (self.writable(chat_id), message_id)
        message = self.messages.get(place)  # type: ignore[arg-type]
        if message is None:
            raise bad_request("message to edit not found")
        if message["from"]["id"] != BOT["id"]:
            raise bad_request("message can't be edited")
        return message

    def keep_file(self, content: bytes, name: str, mime_type: str) -> dict[str, Any]:
        """Keep a file and return what the Bot API says of any file."""
        self._last_file += 1
        file_id = f"AgACfile{self._last_file:08d}"
        self.files[file_id] = Stored(content, name, mime_type)
        return {"file_id": file_id, "file_unique_id": f"unique{self._last_file:08d}", "file_size": len(content)}

    def open_link(self, file_id: str) -> dict[str, Any]:
        """getFile: a path that can be downloaded for an hour."""
        stored = self.files.get(file_id)
        if stored is None:
            raise bad_request("wrong file_id or the file is temporarily unavailable")
        if len(stored.content) > LARGEST_DOWNLOAD:
            raise bad_request("file is too big")
        stored.link_until = self.clock.now() + LINK_LIFE
        number = file_id.removeprefix("AgACfile")
        path = f"files/{file_id}/{stored.name}"
        return {
            "file_id": file_id,
            "file_unique_id": f"unique{number}",
            "file_size": len(stored.content),
            "file_path": path,
        }

    def linked(self, path: str) -> bytes | None:
        """The content behind a path, while the link lives."""
        stored = self.files.get(path.removeprefix("files/").split("/")[0])
        return stored.content if stored and stored.link_until > self.clock.now() else None
