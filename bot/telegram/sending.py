"""One message of the outbox on its way to its chat: a text with buttons, a voice note, a picture or a document."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable

from pydantic import TypeAdapter
from telegram import Bot, InlineKeyboardMarkup
from telegram.error import BadRequest

from bot.sheet.canvas import AnySheet
from bot.sheet.pages import pages
from bot.sheet.picture import picture
from bot.telegram.message import CAPTION, keyboard, parts
from bot.telegram.rate_limit import RateLimit
from bot.telegram.speech_worker import Full, SpeechWorker
from bot.telegram.update import PREFIX
from engine.languages import Language, spoken
from engine.outbox import Outgoing

UPLOAD_S = 60.0
VOICE_FILE = "rowhand.ogg"
SHEET: TypeAdapter[AnySheet] = TypeAdapter(AnySheet)
log = logging.getLogger("rowhand.telegram")


class Sender:
    """Sends into chats, no faster than the pace allows."""

    def __init__(self, bot: Bot, pace: RateLimit, mouth: SpeechWorker) -> None:
        self._bot, self._pace, self._mouth = bot, pace, mouth

    async def send(self, one: Outgoing, text: str, seq: int, silent: bool) -> int | None:
        """Send a message; ``text`` are its words as they stand now, ``seq`` the turn that its buttons answer.

        Returns the number that the chat gave its last text or voice note, None where it sent none. Raises Full for a
        call that cannot be said aloud yet.
        """
        if is_voice(one):
            return await self._voice(one, silent)
        if (content := await _content(one)) is not None:
            return await self._file(one, content, text, silent)
        return await self._texts(one, parts(text), keyboard(one.body.get("buttons"), seq), silent)

    async def withdraw(self, conversation: str, posted: int) -> None:
        """Take a message out of its chat; where it is too old for that, or not there any more, it is left alone."""
        await self._pace.turn(conversation)
        try:
            await self._bot.delete_message(_chat(conversation), posted)
        except BadRequest as error:
            log.info("withdrawing refused error=%s", type(error).__name__)

    async def _texts(
        self, one: Outgoing, pieces: list[str], markup: InlineKeyboardMarkup | None, silent: bool
    ) -> int | None:
        posted: int | None = None
        for number, piece in enumerate(filter(None, pieces), 1):
            await self._pace.turn(one.conversation)
            last, chat = markup if number == len(pieces) else None, _chat(one.conversation)
            sent = await self._bot.send_message(chat, piece, reply_markup=last, disable_notification=silent or None)
            posted = sent.message_id
        return posted

    async def _file(self, one: Outgoing, content: bytes, text: str, silent: bool) -> int | None:
        """A picture or a document under the first words, as far as a caption may be long; the rest as texts."""
        caption, *rest = parts(text, CAPTION)
        await self._pace.turn(one.conversation)
        quiet, chat = silent or None, _chat(one.conversation)
        if "picture" in one.body:
            await self._bot.send_photo(
                chat, content, caption=caption or None, disable_notification=quiet, write_timeout=UPLOAD_S
            )
        else:
            await self._bot.send_document(
                chat,
                content,
                caption=caption or None,
                filename=str(one.body.get("name", "record")),
                disable_notification=quiet,
                write_timeout=UPLOAD_S,
            )
        return await self._texts(one, rest, None, silent)

    async def _voice(self, one: Outgoing, silent: bool) -> int | None:
        if self._mouth.is_full and not one.body.get("silent"):
            raise Full
        note = await self._mouth.note(str(one.body["aloud"]), spoken(one.body.get("language")))
        if note is None:
            return None
        await self._pace.turn(one.conversation)
        sent = await self._bot.send_voice(
            _chat(one.conversation),
            note.sound,
            duration=max(1, round(note.duration_s)),
            filename=VOICE_FILE,
            disable_notification=silent or None,
        )
        return sent.message_id


async def _content(one: Outgoing) -> bytes | None:
    """What a message carries beside its words; None for nothing, and where it cannot be drawn."""
    if isinstance(table := one.body.get("table"), str):
        return table.encode("utf-8-sig")
    drawers: dict[str, Callable[[AnySheet], bytes]] = {"picture": picture, "pages": pages}
    kind = next((kind for kind in drawers if kind in one.body), None)
    if kind is None:
        return None
    try:
        return await asyncio.to_thread(drawers[kind], SHEET.validate_python(one.body[kind]))
    except Exception as error:
        log.error("drawing failed kind=%s error=%s", kind, type(error).__name__)
        return None


def aloud(text: str, language: Language) -> dict[str, object]:
    """The body of a voice note that says ``text``: silent, as its text came before it."""
    return {"aloud": text, "language": language, "silent": True}


def is_voice(one: Outgoing) -> bool:
    """Whether a message is a voice note, which may be lost but never holds up what comes after it."""
    return "aloud" in one.body


def _chat(conversation: str) -> int:
    return int(conversation.removeprefix(PREFIX))
