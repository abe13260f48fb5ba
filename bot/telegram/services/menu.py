"""The menu of the client: for everybody in every language, and for each member what their role may ask for."""

from __future__ import annotations

import asyncio
import logging

from telegram import Bot, BotCommand, BotCommandScopeChat
from telegram.error import TelegramError

from bot.telegram.background import BackgroundTasks
from bot.telegram.texts import ChatTexts
from bot.telegram.updates.backoff import Backoff
from bot.telegram.updates.update import PREFIX
from engine.crew.people import Member
from engine.crew.roles import ALONE, Act
from engine.data.languages import DEFAULT, LANGUAGES
from engine.messages import Language

Shown = tuple[frozenset[Act], Language] | None
"""What the menu of a chat holds and in which language; None where it has none of its own."""
CHATS_KEPT = 10_000
log = logging.getLogger("rowhand.telegram")


class Menus(BackgroundTasks):
    """Gives each chat its menu when something comes from it and the menu is not known to stand there."""

    def __init__(self, bot: Bot, texts: ChatTexts) -> None:
        super().__init__()
        self._bot, self._texts = bot, texts
        self._stands: dict[str, Shown] = {}

    async def run(self) -> None:
        """Give the menu for who is no member, in every language."""
        patience = Backoff()
        for language in (None, *LANGUAGES):
            menu = self._commands(ALONE, language or DEFAULT)
            while True:
                try:
                    await self._bot.set_my_commands(menu, language_code=language)
                    break
                except TelegramError as error:
                    await asyncio.sleep(patience.next(error))

    def offer(self, chat: str, member: Member | None, language: Language) -> None:
        """The menu of a member, in the language they speak; nobody else has one of their own."""
        wanted = (member.acts, language) if member and member.farm else None
        if chat in self._stands and self._stands[chat] == wanted:
            return
        if len(self._stands) > CHATS_KEPT:
            self._stands.clear()
        self._stands[chat] = wanted
        self.begin(self._give(chat, wanted))

    async def _give(self, chat: str, wanted: Shown) -> None:
        scope = BotCommandScopeChat(int(chat.removeprefix(PREFIX)))
        try:
            if wanted is None:
                await self._bot.delete_my_commands(scope)
            else:
                await self._bot.set_my_commands(self._commands(*wanted), scope)
        except TelegramError as error:
            log.info("menu failed error=%s", type(error).__name__)
            self._stands.pop(chat, None)

    def _commands(self, acts: frozenset[Act], language: Language) -> list[BotCommand]:
        return [BotCommand(name, about) for name, about in self._texts.menu(language, acts).items()]
