"""The chat channel put together: one process, one bot, one record, beside others on that record where there are any."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import signal
from collections.abc import AsyncIterator, Coroutine, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from functools import partial

from bot import wiring
from bot.hearing import HearingPool
from bot.settings import Settings
from bot.telegram.access import ChatAccess
from bot.telegram.background import together
from bot.telegram.bell import Bell
from bot.telegram.context import ChatContext
from bot.telegram.delivery import AT_ONCE, MessageDelivery
from bot.telegram.edits.keyboards import Keyboards
from bot.telegram.fetching import Fetcher
from bot.telegram.listener import Listener
from bot.telegram.logbook import write_log
from bot.telegram.reception import Front, Reception
from bot.telegram.sending import RateLimit, Sender
from bot.telegram.services.commands import CommandService, Preferences
from bot.telegram.services.membership import MembershipService
from bot.telegram.services.menu import Menus
from bot.telegram.services.showing import Showing
from bot.telegram.texts import ChatTexts
from bot.telegram.updates.address import Address
from bot.telegram.updates.client import client, http_request
from bot.telegram.updates.intake import Chats, Reachability
from bot.telegram.updates.source import Source, UpdateWay, source
from bot.telegram.worker import EngineWorker, SpeechWorker
from bot.voice.profiles import Profiles
from bot.wiring import open_record, rules
from engine.account import Accounts
from engine.assistant import Assistant
from engine.crew.notifications import Notifications
from engine.crew.people import People
from engine.data.languages import LANGUAGES
from engine.database import Database
from engine.errors import DefinitionError, InputError, WorldError
from engine.history.store.journal import Journal
from engine.history.store.scan import find
from engine.messages import Language
from engine.queues.inbox import Gone, Inbox
from engine.queues.lease import RENEWED, Leases, worker_name
from engine.queues.outbox import Outbox

READ_S = 10.0
REMEMBERED = timedelta(days=8)
LEFT_S = 1.0
"""So long what an earlier run left to be sent has the program for itself."""
log = logging.getLogger("rowhand.telegram")


class WorkKind(StrEnum):
    """What a program of the chat does: hear sound and look at photos, take turns, send answers, ring reminders."""

    HEAR = "hear"
    TURN = "turn"
    SEND = "send"
    REMIND = "remind"


EVERY_KIND = frozenset(WorkKind)


def work_kinds(given: str) -> frozenset[WorkKind]:
    """The kinds that are named, with commas between; raises InputError."""
    names = [name.strip() for name in given.split(",")]
    if not set(names) <= set(WorkKind):
        raise InputError(f"{given!r} names other work than {', '.join(WorkKind)}")
    return frozenset(map(WorkKind, names))


@dataclass(frozen=True)
class TelegramChannel:
    """All parts of a running channel; ``languages`` are those it is spoken in, the one it begins in first."""

    inbox: Inbox
    chats: Chats
    source: Source | None
    delivery: MessageDelivery
    bell: Bell
    menus: Menus
    leases: Leases
    engine: EngineWorker
    kinds: frozenset[WorkKind]
    languages: tuple[Language, ...]

    async def run(self) -> None:
        """Answer for ever; what an earlier run left undone comes first."""
        await asyncio.to_thread(self.inbox.prune, datetime.now(UTC) - REMEMBERED)
        await self.engine.first(self.leases.free_the_dead)
        await together(self._parts())

    def _parts(self) -> Iterator[Coroutine[None, None, None]]:
        yield self._live()
        yield self._prepare()
        if self.kinds & {WorkKind.HEAR, WorkKind.TURN}:
            yield self.chats.run()
        if WorkKind.SEND in self.kinds:
            yield self.delivery.run()
        if WorkKind.REMIND in self.kinds:
            yield self.bell.run()
        if self.source is not None:
            yield self.source.run()
            yield self.menus.run()

    async def _prepare(self) -> None:
        """What turns read once is read before the record waits for it; what is left to be sent goes first."""
        if WorkKind.SEND in self.kinds:
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(LEFT_S):
                    await self.delivery.caught_up.wait()
        for language in self.languages if WorkKind.TURN in self.kinds else ():
            await asyncio.to_thread(self.engine.prepare, language)
            self.chats.ready.set()
        self.chats.ready.set()

    async def _live(self) -> None:
        """Say that this program lives, and take over from those here that do not."""
        while True:
            await asyncio.sleep(RENEWED.total_seconds())
            with contextlib.suppress(WorldError):
                if self.chats.is_busy or self.delivery.is_busy:
                    await self.engine.first(self.leases.renew, datetime.now(UTC))
                await self.engine.first(self.leases.free_the_dead)


def run(settings: Settings, way: UpdateWay | None = UpdateWay.POLLING, kinds: frozenset[WorkKind] = EVERY_KIND) -> None:
    """Run the channel until a signal ends it; without a ``way`` it works on what other programs bring.

    Raises DefinitionError where the token is missing or unknown, the record in memory or a voice profile damaged, and
    DatabaseError where the record cannot be used.
    """
    write_log()
    asyncio.run(_until_stopped(settings, way, kinds))


async def _until_stopped(settings: Settings, way: UpdateWay | None, kinds: frozenset[WorkKind]) -> None:
    async with channel(settings, way, kinds) as running:
        work = asyncio.create_task(running.run())
        for number in (signal.SIGTERM, signal.SIGINT):
            asyncio.get_running_loop().add_signal_handler(number, work.cancel)
        log.info("started")
        try:
            await work
        except asyncio.CancelledError:
            log.info("stopped")


@contextlib.asynccontextmanager
async def channel(
    settings: Settings, way: UpdateWay | None = UpdateWay.POLLING, kinds: frozenset[WorkKind] = EVERY_KIND
) -> AsyncIterator[TelegramChannel]:
    """A channel on the record of the settings, ready to run; everything is closed at the end."""
    requests = http_request(connection_pool_size=AT_ONCE + 10, read_timeout=READ_S), http_request()
    bot = client(settings, *requests)
    database = _record(settings)
    outbox, inbox, texts = Outbox(database), Inbox(database), ChatTexts.load()
    me = worker_name()
    leases = Leases(database, me)
    assistant = Assistant(database, rules(settings))
    profiles = Profiles(settings.voice_profiles)
    profiles.all()
    engine = EngineWorker(assistant, Journal(database), profiles)
    reach, fetcher = Reachability(Gone(database), engine.first), Fetcher(bot)
    people, news = People(database), Notifications(database, settings.time_zone)
    showing = Showing(database, texts, settings.zone, settings.units, settings.record_time)
    crew = ChatAccess(people, news, engine, showing, texts)
    address = Address(bot, Accounts(database))
    desk = CommandService(
        engine, MembershipService(people, engine, texts, address.told), Preferences(news, texts), showing, texts
    )
    ears = HearingPool(settings.voice_workers, settings.recognizer.value, settings.voice_seconds, settings.models)
    mouth = SpeechWorker(partial(wiring.voice, settings))
    pace = RateLimit(settings.telegram_rate, settings.telegram_chat_rate)
    keyboards, menus = Keyboards(bot, pace), Menus(bot, texts)
    front = Front(Reception(people, texts, settings.zone, settings.units), menus, keyboards)
    chat = ChatContext(engine, inbox, outbox, crew, texts, settings)
    delivery = MessageDelivery(chat, Sender(bot, pace, mouth, partial(find, database)), reach, keyboards, me)
    listener = Listener(chat, reach, desk, ears, fetcher, front, delivery.wake)
    hears, turns = WorkKind.HEAR in kinds, WorkKind.TURN in kinds
    chats = Chats(listener.take, inbox, engine.first, me, quick=turns, slow=hears)
    bell = Bell(wiring.watch(settings, assistant, database), engine, outbox, delivery.wake)
    try:
        brings = source(settings, way, bot, database, chats.keep) if way else None
        languages = settings.language, *(one for one in LANGUAGES if one != settings.language)
        yield TelegramChannel(inbox, chats, brings, delivery, bell, menus, leases, engine, kinds, languages)
    finally:
        for part in (chats, fetcher, delivery, keyboards, menus):
            await part.stop()
        with contextlib.suppress(WorldError):
            await engine.first(leases.let_go)
        ears.close()
        mouth.close()
        engine.close()
        for request in requests:
            await request.shutdown()
        database.close()


def _record(settings: Settings) -> Database:
    if settings.database == ":memory:":
        mend = "name a file with --db or ROWHAND_DATABASE"
        raise DefinitionError("settings", "database", "is in memory, where the parts of a chat cannot share it", mend)
    return open_record(settings)
