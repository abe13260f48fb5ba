"""One message of the outbox on its way to its chat: a text with buttons, a voice note, a picture or a document."""

from __future__ import annotations

import asyncio
import logging
import time
from collections.abc import Awaitable, Callable
from typing import assert_never

from pydantic import JsonValue, TypeAdapter
from telegram import Bot, InlineKeyboardMarkup
from telegram.error import BadRequest

from bot.photo_file import fits
from bot.sheet.canvas import AnySheet
from bot.sheet.pages import pages
from bot.sheet.picture import picture
from bot.telegram.message import CAPTION, keyboard, parts
from bot.telegram.updates.update import PREFIX
from bot.telegram.worker import Full, SpeechWorker
from engine.history.store.scan import Scan
from engine.queues.outbox_message import (
    DocumentMessage,
    FileMessage,
    PagesMessage,
    PictureMessage,
    ReminderMessage,
    ShownMessage,
    TableMessage,
    TextMessage,
    VoiceNoteMessage,
)

BURST, CHATS_KEPT = 4, 10_000


class RateLimit:
    """Places in line: ``turn`` returns when one more message may leave."""

    def __init__(self, rate: float, chat_rate: float) -> None:
        self._every_s, self._chat_every_s = 1.0 / rate, 1.0 / chat_rate
        self._next = 0.0
        self._chats: dict[str, float] = {}

    async def turn(self, conversation: str) -> None:
        """Wait for the chat's own place, then for one in the common line."""
        now = time.monotonic()
        await asyncio.sleep(self._chat_wait(conversation, now))
        now = time.monotonic()
        self._next = max(self._next, now) + self._every_s
        await asyncio.sleep(self._next - self._every_s - now)

    def _chat_wait(self, conversation: str, now: float) -> float:
        if len(self._chats) > CHATS_KEPT:
            self._chats = {name: full for name, full in self._chats.items() if full > now}
        full = max(self._chats.get(conversation, 0.0), now) + self._chat_every_s
        self._chats[conversation] = full
        return max(full - now - BURST * self._chat_every_s, 0.0)


UPLOAD_S = 60.0
LARGEST_SIDE, LARGEST_PICTURE = 1280, 5 << 20
"""A photo with more pixels on a side is made smaller by the chat (seen by others: github.com/tginfo/Telegram-Limits,
issue 179), and one of more than 10 MB is not taken (Bot API); a file comes as it was sent. Half of that leaves room
(own decision)."""
VOICE_FILE, PICTURE_FILE = "rowhand.ogg", "rowhand.png"
Post = Callable[..., Awaitable[object]]
"""A way of the client to send a file."""
SHEET: TypeAdapter[AnySheet] = TypeAdapter(AnySheet)
log = logging.getLogger("rowhand.telegram")


class Sender:
    """Sends into chats, no faster than the pace allows; ``kept`` finds a document of the record by its checksum."""

    def __init__(self, bot: Bot, pace: RateLimit, mouth: SpeechWorker, kept: Callable[[str], Scan | None]) -> None:
        self._bot, self._pace, self._mouth, self._kept = bot, pace, mouth, kept

    async def send(self, chat: str, message: ShownMessage, text: str, seq: int, silent: bool) -> int | None:
        """Send a message; ``text`` are its words as they stand now, ``seq`` the turn that its buttons answer.

        Returns the number that the chat gave its last text or voice note, None where it sent none. Raises Full for a
        call that cannot be said aloud yet.
        """
        match message:
            case VoiceNoteMessage():
                return await self._voice(chat, message, silent)
            case TextMessage(buttons=buttons) | ReminderMessage(buttons=buttons):
                return await self._texts(chat, parts(text), keyboard(buttons, seq), silent)
            case PictureMessage() | PagesMessage() | TableMessage() | DocumentMessage():
                return await self._file(chat, message, text, silent)
            case _:
                assert_never(message)

    async def withdraw(self, conversation: str, posted: int) -> None:
        """Take a message out of its chat; where it is too old for that, or not there any more, it is left alone."""
        await self._pace.turn(conversation)
        try:
            await self._bot.delete_message(_chat(conversation), posted)
        except BadRequest as error:
            log.info("withdrawing refused error=%s", type(error).__name__)

    async def _texts(
        self, chat: str, pieces: list[str], markup: InlineKeyboardMarkup | None, silent: bool
    ) -> int | None:
        posted: int | None = None
        for number, piece in enumerate(filter(None, pieces), 1):
            await self._pace.turn(chat)
            last = markup if number == len(pieces) else None
            sent = await self._bot.send_message(
                _chat(chat), piece, reply_markup=last, disable_notification=silent or None
            )
            posted = sent.message_id
        return posted

    async def _file(self, chat: str, message: FileMessage, text: str, silent: bool) -> int | None:
        """A picture or a document under the first words, as far as a caption may be long; the rest as texts. Where it
        cannot be drawn, the words alone; where it is gone, those that say so."""
        content = await self._content(message)
        if content is None:
            words = message.instead if isinstance(message, DocumentMessage) else text
            return await self._texts(chat, parts(words), None, silent)
        caption, *rest = parts(text, CAPTION)
        await self._pace.turn(chat)
        await self._upload(chat, message, content, caption or None, silent or None)
        return await self._texts(chat, rest, None, silent)

    async def _content(self, message: FileMessage) -> bytes | None:
        """The file; None where it cannot be drawn, or is not in the record any more."""
        match message:
            case TableMessage(table=table):
                return table.encode("utf-8-sig")
            case PictureMessage(drawing=drawing):
                return await _painted(picture, drawing)
            case PagesMessage(drawing=drawing):
                return await _painted(pages, drawing)
            case DocumentMessage(document=document):
                found = await asyncio.to_thread(self._kept, document.sha256)
                return found.content if found else None
            case _:
                assert_never(message)

    async def _upload(
        self, chat: str, message: FileMessage, content: bytes, caption: str | None, quiet: bool | None
    ) -> None:
        match message:
            case PictureMessage():
                await self._posted(self._bot.send_photo, chat, content, PICTURE_FILE, caption, quiet)
            case PagesMessage(name=name) | TableMessage(name=name):
                await self._posted(self._bot.send_document, chat, content, name, caption, quiet)
            case DocumentMessage(name=name):
                await self._as_kept(chat, content, name, caption, quiet)
            case _:
                assert_never(message)

    async def _as_kept(self, chat: str, content: bytes, name: str, caption: str | None, quiet: bool | None) -> None:
        """A picture that the chat would make smaller, or does not take as one, goes as a file: small print is read."""
        if len(content) > LARGEST_PICTURE or not fits(content, LARGEST_SIDE):
            return await self._posted(self._bot.send_document, chat, content, name, caption, quiet)
        try:
            await self._posted(self._bot.send_photo, chat, content, name, caption, quiet)
        except BadRequest as error:
            log.info("picture refused error=%s", type(error).__name__)
            await self._posted(self._bot.send_document, chat, content, name, caption, quiet)

    async def _posted(
        self, post: Post, chat: str, content: bytes, name: str, caption: str | None, quiet: bool | None
    ) -> None:
        named = {"caption": caption, "filename": name, "disable_notification": quiet}
        await post(_chat(chat), content, **named, write_timeout=UPLOAD_S)

    async def _voice(self, chat: str, message: VoiceNoteMessage, silent: bool) -> int | None:
        if self._mouth.is_full and not message.silent:
            raise Full
        note = await self._mouth.note(message.said, message.language)
        if note is None:
            return None
        await self._pace.turn(chat)
        sent = await self._bot.send_voice(
            _chat(chat),
            note.sound,
            duration=max(1, round(note.duration_s)),
            filename=VOICE_FILE,
            disable_notification=silent or None,
        )
        return sent.message_id


async def _painted(paint: Callable[[AnySheet], bytes], drawing: JsonValue) -> bytes | None:
    try:
        return await asyncio.to_thread(paint, SHEET.validate_python(drawing))
    except Exception as error:
        log.error("drawing failed kind=%s error=%s", paint.__name__, type(error).__name__)
        return None


def _chat(conversation: str) -> int:
    return int(conversation.removeprefix(PREFIX))
