"""The chat channel put together: one process, one bot, one record."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import signal
from collections.abc import AsyncIterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import partial

from telegram import Bot
from telegram.request import HTTPXRequest

from bot import wiring
from bot.settings import Settings
from bot.telegram.access import Crew
from bot.telegram.bell import Bell
from bot.telegram.delivery import AT_ONCE, MessageDelivery
from bot.telegram.edits.keyboards import Keyboards
from bot.telegram.fetching import Fetcher
from bot.telegram.listener import Listener
from bot.telegram.logbook import write_log
from bot.telegram.reception import Front, Reception
from bot.telegram.sending import RateLimit, Sender
from bot.telegram.services.commands import Desk, Preferences
from bot.telegram.services.membership import Roster
from bot.telegram.services.menu import Menus
from bot.telegram.services.showing import Showing
from bot.telegram.texts import ChatTexts
from bot.telegram.updates.address import Address
from bot.telegram.updates.client import client
from bot.telegram.updates.intake import Chats, Reach
from bot.telegram.updates.source import Source, UpdateWay, source
from bot.telegram.worker import EngineWorker, HearingWorker, SpeechWorker
from bot.voice.profiles import Profiles
from bot.wiring import open_record, rules
from engine.account import Accounts
from engine.assistant import Assistant
from engine.crew.notifications import News
from engine.crew.people import People
from engine.database import Database
from engine.errors import DefinitionError
from engine.history.store.journal import Journal
from engine.queues.inbox import Gone, Inbox
from engine.queues.outbox import Outbox

READ_S = 10.0
REMEMBERED = timedelta(days=8)
log = logging.getLogger("rowhand.telegram")


@dataclass(frozen=True)
class TelegramChannel:
    """All parts of a running channel."""

    bot: Bot
    inbox: Inbox
    chats: Chats
    source: Source
    delivery: MessageDelivery
    bell: Bell
    menus: Menus

    async def run(self) -> None:
        """Answer for ever; what an earlier run left undone comes first."""
        await asyncio.to_thread(self.inbox.prune, datetime.now(UTC) - REMEMBERED)
        self.chats.take(await asyncio.to_thread(self.inbox.waiting))
        tasks = [
            asyncio.create_task(part)
            for part in (self.source.run(), self.delivery.run(), self.bell.run(), self.menus.run())
        ]
        try:
            await asyncio.gather(*tasks)
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)


def run(settings: Settings, way: UpdateWay = UpdateWay.POLLING) -> None:
    """Run the channel until a signal ends it.

    Raises DefinitionError where the token is missing or unknown, the record in memory or a voice profile damaged, and
    DatabaseError where the record cannot be used.
    """
    write_log()
    asyncio.run(_until_stopped(settings, way))


async def _until_stopped(settings: Settings, way: UpdateWay) -> None:
    async with channel(settings, way) as running:
        work = asyncio.create_task(running.run())
        for number in (signal.SIGTERM, signal.SIGINT):
            asyncio.get_running_loop().add_signal_handler(number, work.cancel)
        log.info("started")
        try:
            await work
        except asyncio.CancelledError:
            log.info("stopped")


@contextlib.asynccontextmanager
async def channel(settings: Settings, way: UpdateWay = UpdateWay.POLLING) -> AsyncIterator[TelegramChannel]:
    """A channel on the record of the settings, ready to run; everything is closed at the end."""
    requests = HTTPXRequest(connection_pool_size=AT_ONCE + 10, read_timeout=READ_S), HTTPXRequest()
    bot = client(settings, *requests)
    database = _record(settings)
    outbox, inbox, texts = Outbox(database), Inbox(database), ChatTexts.load()
    assistant = Assistant(database, rules(settings))
    profiles = Profiles(settings.voice_profiles)
    profiles.all()
    mind = EngineWorker(assistant, Journal(database), profiles)
    reach, fetcher = Reach(Gone(database)), Fetcher(bot)
    people, news = People(database), News(database, settings.time_zone)
    showing = Showing(database, texts, settings.zone, settings.units, settings.record_time)
    crew = Crew(people, news, mind, showing, texts)
    address = Address(bot, Accounts(database))
    desk = Desk(mind, Roster(people, mind, texts, address.told), Preferences(news, texts), showing, texts)
    ears = HearingWorker(settings.voice_workers, settings.recognizer.value, settings.voice_seconds, settings.models)
    mouth = SpeechWorker(partial(wiring.voice, settings))
    pace = RateLimit(settings.telegram_rate, settings.telegram_chat_rate)
    keyboards, menus = Keyboards(bot, pace), Menus(bot, texts)
    front = Front(Reception(people, texts, settings.zone, settings.units), menus, keyboards)
    delivery = MessageDelivery(Sender(bot, pace, mouth), outbox, mind, reach, crew, keyboards, texts)
    listener = Listener(mind, inbox, outbox, reach, crew, desk, ears, fetcher, front, texts, settings, delivery.wake)
    chats = Chats(listener.take)
    bell = Bell(wiring.watch(settings, assistant, database), mind, outbox, delivery.wake)
    try:
        yield TelegramChannel(bot, inbox, chats, source(settings, way, bot, inbox, chats.take), delivery, bell, menus)
    finally:
        for part in (chats, fetcher, delivery, keyboards, menus):
            await part.stop()
        ears.close()
        mouth.close()
        mind.close()
        for request in requests:
            await request.shutdown()
        database.close()


def _record(settings: Settings) -> Database:
    if settings.database == ":memory:":
        mend = "name a file with --db or ROWHAND_DATABASE"
        raise DefinitionError("settings", "database", "is in memory, where the parts of a chat cannot share it", mend)
    return open_record(settings)
