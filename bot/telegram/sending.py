"""One message of the outbox on its way to its chat: a text with buttons, a voice note, a picture or a document."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable

from telegram import Bot, InlineKeyboardMarkup

from bot.sheet.pages import pages
from bot.sheet.picture import picture
from bot.sheet.sheet import Sheet
from bot.telegram.message import CAPTION, keyboard, parts
from bot.telegram.mouth import Mouth
from bot.telegram.pace import Pace
from bot.telegram.update import PREFIX
from engine.messages import Language
from engine.outbox import Outgoing

UPLOAD_S = 60.0
log = logging.getLogger("rowhand.telegram")


class Sender:
    """Sends into chats, no faster than the pace allows."""

    def __init__(self, bot: Bot, pace: Pace, mouth: Mouth) -> None:
        self._bot, self._pace, self._mouth = bot, pace, mouth

    async def send(self, one: Outgoing, text: str, seq: int, silent: bool) -> None:
        """Send a message; ``text`` are its words as they stand now, ``seq`` the turn that its buttons answer."""
        if is_voice(one):
            await self._voice(one, silent)
        elif (content := await _content(one)) is not None:
            await self._file(one, content, text, silent)
        else:
            await self._texts(one, parts(text), keyboard(one.body.get("buttons"), seq), silent)

    async def _texts(self, one: Outgoing, pieces: list[str], markup: InlineKeyboardMarkup | None, silent: bool) -> None:
        for number, piece in enumerate(filter(None, pieces), 1):
            await self._pace.turn(one.conversation)
            last = markup if number == len(pieces) else None
            await self._bot.send_message(_chat(one), piece, reply_markup=last, disable_notification=silent or None)

    async def _file(self, one: Outgoing, content: bytes, text: str, silent: bool) -> None:
        """A picture or a document under the first words, as far as a caption may be long; the rest as texts."""
        caption, *rest = parts(text, CAPTION)
        await self._pace.turn(one.conversation)
        quiet = silent or None
        if "picture" in one.body:
            await self._bot.send_photo(
                _chat(one), content, caption=caption or None, disable_notification=quiet, write_timeout=UPLOAD_S
            )
        else:
            await self._bot.send_document(
                _chat(one),
                content,
                caption=caption or None,
                filename=str(one.body.get("name", "record")),
                disable_notification=quiet,
                write_timeout=UPLOAD_S,
            )
        await self._texts(one, rest, None, silent)

    async def _voice(self, one: Outgoing, silent: bool) -> None:
        language: Language = "es" if one.body.get("language") == "es" else "en"
        note = await self._mouth.note(str(one.body["aloud"]), language)
        if note is not None:
            await self._pace.turn(one.conversation)
            await self._bot.send_voice(_chat(one), note, disable_notification=silent or None)


async def _content(one: Outgoing) -> bytes | None:
    """What a message carries beside its words; None for nothing, and where it cannot be drawn."""
    if isinstance(table := one.body.get("table"), str):
        return table.encode("utf-8-sig")
    drawers: dict[str, Callable[[Sheet], bytes]] = {"picture": picture, "pages": pages}
    kind = next((kind for kind in drawers if kind in one.body), None)
    if kind is None:
        return None
    try:
        return await asyncio.to_thread(drawers[kind], Sheet.model_validate(one.body[kind]))
    except Exception as error:
        log.error("drawing failed kind=%s error=%s", kind, type(error).__name__)
        return None


def aloud(text: str, language: Language) -> dict[str, object]:
    """The body of a voice note that says ``text``: silent, as its text came before it."""
    return {"aloud": text, "language": language, "silent": True}


def is_voice(one: Outgoing) -> bool:
    """Whether a message is a voice note, which may be lost but never holds up what comes after it."""
    return "aloud" in one.body


def _chat(one: Outgoing) -> int:
    return int(one.conversation.removeprefix(PREFIX))
