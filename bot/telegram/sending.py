"""One message of the outbox on its way to its chat: a text with buttons, or a voice note."""

from __future__ import annotations

from typing import Any

from telegram import Bot

from bot.telegram.message import keyboard, parts
from bot.telegram.mouth import Mouth
from bot.telegram.pace import Pace
from bot.telegram.update import PREFIX
from engine.messages import Language
from engine.outbox import Outgoing


class Sender:
    """Sends into chats, no faster than the pace allows."""

    def __init__(self, bot: Bot, pace: Pace, mouth: Mouth) -> None:
        self._bot, self._pace, self._mouth = bot, pace, mouth

    async def send(self, one: Outgoing, text: str, seq: int) -> None:
        """Send a message; ``text`` are its words as they stand now, ``seq`` the turn that its buttons answer."""
        if is_voice(one):
            await self._voice(one)
        else:
            await self._texts(one, text, keyboard(one.body.get("buttons"), seq))

    async def _texts(self, one: Outgoing, text: str, markup: Any) -> None:
        pieces = parts(text)
        for number, piece in enumerate(pieces, 1):
            await self._pace.turn(one.conversation)
            last = markup if number == len(pieces) else None
            await self._bot.send_message(_chat(one), piece, reply_markup=last, disable_notification=_silent(one))

    async def _voice(self, one: Outgoing) -> None:
        language: Language = "es" if one.body.get("language") == "es" else "en"
        note = await self._mouth.note(str(one.body["aloud"]), language)
        if note is not None:
            await self._pace.turn(one.conversation)
            await self._bot.send_voice(_chat(one), note, disable_notification=_silent(one))


def aloud(text: str, language: Language) -> dict[str, object]:
    """The body of a voice note that says ``text``: silent, as its text came before it."""
    return {"aloud": text, "language": language, "silent": True}


def is_voice(one: Outgoing) -> bool:
    """Whether a message is a voice note, which may be lost but never holds up what comes after it."""
    return "aloud" in one.body


def _chat(one: Outgoing) -> int:
    return int(one.conversation.removeprefix(PREFIX).partition("/")[0])


def _silent(one: Outgoing) -> bool | None:
    """True for what can wait; left out for all else."""
    return True if one.body.get("silent") else None
