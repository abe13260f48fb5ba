"""Buttons under messages: taken away once their question is answered, by whatever words and from whichever phone."""

from __future__ import annotations

import logging

from telegram import Bot
from telegram.error import TelegramError

from bot.telegram.background import BackgroundTasks
from bot.telegram.sending import RateLimit
from bot.telegram.updates.update import PREFIX

CHATS_KEPT = 10_000
log = logging.getLogger("rowhand.telegram")


class Keyboards(BackgroundTasks):
    """Knows which messages of a chat have buttons; a comfort alone, since one that is left answers as an old button."""

    def __init__(self, bot: Bot, pace: RateLimit) -> None:
        super().__init__()
        self._bot, self._pace = bot, pace
        self._live: dict[str, dict[int, int]] = {}

    def shown(self, chat: str, posted: int, seq: int) -> None:
        """A message with buttons that answer the turn ``seq`` stands in the chat."""
        if len(self._live) > CHATS_KEPT:
            self._live.clear()
        self._live.setdefault(chat, {})[posted] = seq

    def answered(self, chat: str, seq: int) -> None:
        """Something is answered by the turn ``seq``: what was asked before it has no buttons any more."""
        for posted in [one for one, asked in self._live.get(chat, {}).items() if asked != seq]:
            self.close(chat, posted)

    def close(self, chat: str, posted: int) -> None:
        """Take the buttons of one message away."""
        self._live.get(chat, {}).pop(posted, None)
        self.begin(self._clear(chat, posted))

    async def _clear(self, chat: str, posted: int) -> None:
        await self._pace.turn(f"{chat} buttons")
        try:
            await self._bot.edit_message_reply_markup(int(chat.removeprefix(PREFIX)), posted, reply_markup=None)
        except TelegramError as error:
            log.info("buttons stay error=%s", type(error).__name__)
