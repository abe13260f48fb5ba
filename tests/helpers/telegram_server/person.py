"""People with phones: what they do reaches the bot as updates, and they see what it sent."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, field
from typing import Any

from tests.helpers.telegram_server.account import BOT, Account, Chat, Message
from tests.helpers.telegram_server.clock import Bell
from tests.helpers.telegram_server.media import opus_seconds, picture_size
from tests.helpers.telegram_server.transcript import Sent, Transcript
from tests.helpers.telegram_server.update_queue import CALLBACK_LIFE, DAY, UpdateQueue

CALLBACK_QUEUE, MEMBER_QUEUE = 3 << 33, 5 << 33
PATIENCE = 60.0
"""Seconds until what does not come is missed: long, since only a test that fails waits so long."""


@dataclass(frozen=True)
class World:
    """What people act on."""

    account: Account
    updates: UpdateQueue
    transcript: Transcript
    bell: Bell


@dataclass
class Person:
    """One person in the private chat with the bot, or in a group (``chat_id`` below zero)."""

    world: World
    id: int
    name: str = "Operator"
    language: str = "en"
    chat_id: int = 0
    seen: int = field(default=0, init=False)

    def __post_init__(self) -> None:
        self.chat_id = self.chat_id or self.id
        private = {"id": self.id, "type": "private", "first_name": self.name}
        if self.chat_id == self.id:
            self.world.account.chats.setdefault(self.id, Chat(private))

    @property
    def user(self) -> dict[str, Any]:
        return {"id": self.id, "is_bot": False, "first_name": self.name, "language_code": self.language}

    @property
    def chat(self) -> Chat:
        return self.world.account.chats[self.chat_id]

    def says(self, text: str, *, date: int | None = None) -> Message:
        """Send a text; ``date`` sets when the server got it, for one that reaches the bot late."""
        entities = None
        if text.startswith("/"):
            entities = [{"type": "bot_command", "offset": 0, "length": len(text.split(maxsplit=1)[0])}]
        return self._sends(date=date, text=text, entities=entities)

    def sends_voice(self, content: bytes, *, duration: int | None = None, date: int | None = None) -> Message:
        """Send an Ogg/Opus voice note; its length is read from the sound unless given."""
        kept = self.world.account.keep_file(content, "voice.oga", "audio/ogg")
        seconds = opus_seconds(content) if duration is None else duration
        return self._sends(date=date, voice=kept | {"duration": seconds, "mime_type": "audio/ogg"})

    def sends_photo(self, content: bytes, caption: str | None = None) -> Message:
        width, height = picture_size(content)
        kept = self.world.account.keep_file(content, "photo.jpg", "image/jpeg")
        return self._sends(photo=[kept | {"width": width, "height": height}], caption=caption)

    def sends_document(self, content: bytes, name: str, mime_type: str) -> Message:
        kept = self.world.account.keep_file(content, name, mime_type)
        return self._sends(document=kept | {"file_name": name, "mime_type": mime_type})

    def edits(self, message: Message, text: str) -> Message:
        """Change a text this person sent before."""
        message |= {"text": text, "edit_date": self.world.account.date()}
        expires = self.world.account.clock.now() + DAY
        self.world.updates.add("edited_message", dict(message), queue=self.chat_id, expires=expires)
        return message

    def presses(self, label: str) -> None:
        """Press the newest button of this label: inline ones call back, reply buttons send their text.

        A button that was taken away can still be pressed: the thumb may have been quicker.
        """
        for sent in reversed(self.received):
            for row, labels in enumerate(sent.buttons):
                if label in labels:
                    return self._press(sent, row, labels.index(label))
        raise AssertionError(f"no button {label!r}; there are {[one.buttons for one in self.received[-3:]]}")

    def _press(self, sent: Sent, row: int, column: int) -> None:
        markup = sent.markup or {}
        if "keyboard" in markup:
            self.says(sent.buttons[row][column])
        else:
            self.calls_back(markup["inline_keyboard"][row][column]["callback_data"], sent.message_id)

    def calls_back(self, data: str, message_id: int) -> str:
        """A callback with any data, as a press or forged; its query's number is returned."""
        account = self.world.account
        number = str(4_000_000 + len(account.callbacks))
        expires = account.callbacks[number] = account.clock.now() + CALLBACK_LIFE
        query = {
            "id": number,
            "from": self.user,
            "message": dict(account.messages[self.chat_id, message_id]),
            "chat_instance": str(self.chat_id),
            "data": data,
        }
        self.world.updates.add("callback_query", query, queue=self.id + CALLBACK_QUEUE, expires=expires)
        return number

    def invites(self) -> None:
        """Add the bot to this group."""
        self._member("left", "member")
        self.chat.open = True

    def blocks(self) -> None:
        """Block the bot (in a group: throw it out)."""
        self._member("member", "kicked")
        self.chat.blocked, self.chat.open = True, False

    def unblocks(self) -> None:
        self._member("kicked", "member")
        self.chat.blocked, self.chat.open = False, True

    @property
    def received(self) -> list[Sent]:
        """What came; a change of buttons alone is none of it, see ``live``."""
        return [one for one in self.world.transcript.of(self.chat_id) if one.method != "editMessageReplyMarkup"]

    async def receives(self, timeout: float = PATIENCE) -> Sent:
        """The next thing the bot sent that was not looked at yet."""
        loop = asyncio.get_running_loop()
        end = loop.time() + timeout
        while len(self.received) <= self.seen:
            if loop.time() >= end:
                raise AssertionError(f"nothing more came in {timeout} s; last: {self.received[-1:]}")
            await self.world.bell.wait(end - loop.time())
        self.seen += 1
        return self.received[self.seen - 1]

    @property
    def live(self) -> list[list[str]]:
        """The labels of all buttons that stand in the chat now, message by message."""
        mine = [one for (chat, _), one in self.world.account.messages.items() if chat == self.chat_id]
        inline = [one["reply_markup"]["inline_keyboard"] for one in mine if one.get("reply_markup")]
        return [[button["text"] for row in rows for button in row] for rows in inline]

    async def hears(self, words: str, timeout: float = PATIENCE) -> Sent:
        """The next thing sent that holds these words; what comes before it is passed over."""
        while words not in (sent := await self.receives(timeout)).text:
            pass
        return sent

    def _sends(self, *, date: int | None = None, **content: Any) -> Message:
        assert not self.chat.blocked, "unblock the bot first"
        self.chat.open = self.chat.open or self.chat_id == self.id
        message = self.world.account.new_message(self.chat_id, self.user, **content)
        message["date"] = date or message["date"]
        if self._reaches_the_bot(str(content.get("text", ""))):
            expires = message["date"] + DAY
            self.world.updates.add("message", dict(message), queue=self.chat_id, expires=expires)
        return message

    def _reaches_the_bot(self, text: str) -> bool:
        """In a group a bot in privacy mode sees commands and what names it; nothing where it is no member."""
        return self.chat_id == self.id or (self.chat.open and (text.startswith("/") or f"@{BOT['username']}" in text))

    def _member(self, before: str, after: str) -> None:
        change = {
            "chat": self.chat.content,
            "from": self.user,
            "date": self.world.account.date(),
            "old_chat_member": _membership(before),
            "new_chat_member": _membership(after),
        }
        expires = self.world.account.clock.now() + DAY
        self.world.updates.add("my_chat_member", change, queue=self.id + MEMBER_QUEUE, expires=expires)


def _membership(status: str) -> dict[str, Any]:
    bot = {name: BOT[name] for name in ("id", "is_bot", "first_name", "username")}
    return {"status": status, "user": bot} | ({"until_date": 0} if status == "kicked" else {})
