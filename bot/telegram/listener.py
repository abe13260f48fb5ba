"""What a chat says becomes turns: texts, voice notes, buttons and edits, each update once."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import assert_never

from bot.hear import utterance
from bot.hearing import FailedHearing, HearingPool
from bot.telegram.context import ChatContext
from bot.telegram.edits.editing import AnswerReplacement, Editing
from bot.telegram.edits.taps import Answers, Changes, Ignores, Offers, Taps
from bot.telegram.fetching import Fetcher, Photos, unheard
from bot.telegram.quick_turn import QuickTurns
from bot.telegram.reception import Front
from bot.telegram.services.commands import CommandService
from bot.telegram.services.lessons import LESSON, Lessons
from bot.telegram.texts import ChatKey
from bot.telegram.updates.backoff import Backoff
from bot.telegram.updates.intake import Reachability
from bot.telegram.updates.update import (
    Blocked,
    Edited,
    Elsewhere,
    IncomingVoice,
    Other,
    Photo,
    Pressed,
    TypedText,
    Unusable,
    Visit,
    client_language,
    content,
)
from engine.crew.people import Barred
from engine.data.forms import load_forms
from engine.errors import WorldError
from engine.history.store.journal import StoredTurn
from engine.messages import Language
from engine.queues.inbox import Incoming
from engine.queues.outbox import Outgoing
from engine.queues.outbox_message import TextMessage, words_of

TRIES = 3
ONCE_IN = timedelta(hours=1)
"""How long the same refusal is not said again."""
log = logging.getLogger("rowhand.telegram")


class Listener:
    """Handles one update after another of a chat; ``answered`` is called when something may wait in the outbox."""

    def __init__(
        self,
        chat: ChatContext,
        reach: Reachability,
        desk: CommandService,
        ears: HearingPool,
        fetcher: Fetcher,
        front: Front,
        answered: Callable[[], None],
    ) -> None:
        self._engine, self._inbox, self._outbox, self._reach = chat.engine, chat.inbox, chat.outbox, reach
        self._crew, self._desk, self._ears, self._fetcher = chat.crew, desk, ears, fetcher
        self._texts, self._settings, self._answered = chat.texts, chat.settings, answered
        self._reception, self._menus, self._keyboards = front.reception, front.menus, front.keyboards
        editing = Editing(chat.engine, chat.inbox, chat.texts)
        self._taps = Taps(chat.engine, chat.inbox.database, editing, chat.texts)
        self._replacement = AnswerReplacement(editing, chat)
        self._lessons = Lessons(chat.engine, chat.outbox, ears, chat.texts)
        self._photos = Photos(chat, fetcher)
        self._quick = QuickTurns(chat)

    async def take(self, one: Incoming) -> None:
        """Handle an update to its end; a full disk is waited for, an update that breaks us is given up politely."""
        patience = Backoff()
        while True:
            try:
                if not isinstance(content(one), Blocked):
                    await self._reach.regain(one.conversation)
                return await self._handle(one)
            except WorldError as error:
                log.warning("turn failed update=%d error=%s", one.update_id, type(error).__name__)
                await asyncio.sleep(patience.next())
            except Exception as error:
                log.error("turn broke update=%d error=%s", one.update_id, type(error).__name__)
                await asyncio.sleep(patience.next())
                if patience.failures >= TRIES:
                    return await self._done(one, self._failed(one))

    async def _handle(self, one: Incoming) -> None:
        what = content(one)
        if isinstance(what, TypedText) and (taken := await self._quick.take(one, what)):
            self._menus.offer(one.conversation, taken.member, taken.language)
            self._answered()
        elif isinstance(what, Blocked):
            await self._blocked(one, what.gone)
        elif isinstance(what, Unusable):
            await self._done(one)
        elif isinstance(what, Elsewhere):
            text = self._texts.say(ChatKey.GROUP, self._spoken(one))
            await self._turn_away(one, "group", text)
        else:
            member, barred = await self._crew.admitted(one, what)
            if member:
                await self._admitted(Visit(one, what, member, barred))
            else:
                await self._strange(one, barred)

    async def _blocked(self, one: Incoming, gone: bool) -> None:
        """Who blocks the chat cannot be reached, which others of the farm have to know."""
        if not gone:
            await self._reach.regain(one.conversation)
        elif not self._reach.is_lost(one.conversation):
            await self._reach.lose(one.conversation)
            await self._crew.tell_lost(one.conversation, str(one.update_id))
        await self._done(one)

    async def _strange(self, one: Incoming, barred: Barred | None) -> None:
        """Who is no member is told so, or why an invitation let nobody in; each once an hour."""
        log.warning("stranger update=%d", one.update_id)
        language = self._spoken(one)
        self._menus.offer(one.conversation, None, language)
        if barred is None:
            text, why = self._texts.say(ChatKey.STRANGER, language), "stranger"
        else:
            text, why = self._reception.refusal(barred, language), f"barred-{barred.why.name.lower()}"
        await self._turn_away(one, why, text, since=one.received_at - ONCE_IN)

    async def _admitted(self, visit: Visit) -> None:
        self._menus.offer(visit.chat, visit.member, await self._engine.language(visit.talk))
        match visit.what:
            case TypedText() as said:
                await self._said(visit, said)
            case IncomingVoice() as voice:
                await self._voice(visit, voice)
            case Photo() as photo:
                await self._photo(visit, photo)
            case Pressed() as press:
                await self._pressed(visit, press)
            case Edited(text):
                await self._done(visit.update, *await self._replacement.edited(visit, text))
            case Other():
                await self._notice(visit, ChatKey.TEXT_OR_VOICE)
            case Blocked() | Elsewhere() | Unusable():
                raise ValueError(visit.what)
            case other:
                assert_never(other)

    async def _said(self, visit: Visit, said: TypedText) -> None:
        await self._greet(visit)
        language = await self._engine.language(visit.talk)
        if said.command == "start":
            await self._welcome(visit, language)
            return
        words = self._texts.words(said.command, language) if said.command else None
        await self._text(visit, words or said.text)

    async def _text(self, visit: Visit, text: str) -> None:
        if len(text) > self._settings.text_characters:
            await self._notice(visit, ChatKey.TEXT_TOO_LONG, count=str(self._settings.text_characters))
            return
        if await self._served(visit, text):
            return
        turn = await self._hear(visit, text)
        await self._done(visit.update, *await self._crew.told(turn, visit))

    async def _served(self, visit: Visit, text: str) -> bool:
        """Whether the words were for the desk, which then answered."""
        language = await self._engine.language(visit.talk)
        order = self._texts.order(text, language)
        if order is None or await self._engine.turn(visit.id):
            return False
        begins = (self._lessons.begin(visit, language),) if order == LESSON else ()
        lines = begins or await self._desk.serve(visit, order, language)
        said = words_of(lines[0].message) if lines else ""
        await self._done(visit.update, *lines[:1], *await self._voiced(visit, said), *lines[1:])
        return True

    async def _hear(self, visit: Visit, text: str, part: str = "") -> StoredTurn:
        """Take a turn; ``part`` names a step on the way whose reply nobody needs."""
        heard = visit.utterance(await self._engine.language(visit.talk), text, part)
        return await self._engine.hear(heard, () if part else await self._crew.everyone(visit.member))

    async def _greet(self, visit: Visit) -> None:
        """A conversation begins in the language of the client."""
        wanted = client_language(visit.update)
        if wanted is None or await self._engine.seq(visit.talk):
            return
        if wanted != await self._engine.language(visit.talk):
            await self._hear(visit, load_forms(wanted).called[0], ":language")

    async def _voice(self, visit: Visit, voice: IncomingVoice) -> None:
        await self._greet(visit)
        if voice.seconds > self._settings.voice_seconds:
            await self._notice(visit, ChatKey.VOICE_TOO_LONG, count=f"{self._settings.voice_seconds:g}")
            return
        if voice.size > self._settings.voice_bytes:
            await self._notice(visit, ChatKey.VOICE_TOO_LARGE)
            return
        sound = await self._fetcher.fetch(voice.file_id, self._settings.voice_bytes)
        if isinstance(sound, ChatKey):
            await self._notice(visit, sound)
            return
        if line := await self._lessons.heard(visit, sound):
            await self._done(visit.update, line, *await self._voiced(visit, words_of(line.message)))
            return
        language, grammar = await self._engine.ready(visit.talk)
        heard = await self._ears.hear(sound, language, self._texts.with_orders(grammar, language))
        if isinstance(heard, FailedHearing):
            why = unheard(heard.fault)
            await self._notice(visit, why, **why.only(count=f"{self._settings.voice_seconds:g}"))
        elif not await self._served(visit, heard.text):
            place = {"id": visit.id, "conversation": visit.talk, "said_at": visit.said_at}
            said = utterance(heard, language).model_copy(update=place)
            turn = await self._engine.hear(said, await self._crew.everyone(visit.member))
            voiced = await self._voiced(visit, turn.reply.speech or turn.reply.text)
            await self._done(visit.update, *voiced, *await self._crew.told(turn, visit))

    async def _photo(self, visit: Visit, photo: Photo) -> None:
        """Kept where it is for a product; else the words under it are heard, and without any it is not read."""
        taken = await self._photos.take(visit, photo)
        if isinstance(taken, ChatKey):
            await self._notice(visit, taken)
        elif taken is not None:
            await self._done(visit.update, *await self._crew.told(taken, visit))
        elif photo.caption:
            await self._said(visit, TypedText(photo.caption))
        else:
            await self._done(visit.update, visit.line(await self._photos.unread(visit)))

    async def _voiced(self, visit: Visit, text: str) -> tuple[Outgoing, ...]:
        """The text as a voice note too, for somebody who spoke."""
        return visit.aloud(text, await self._engine.language(visit.talk)) if visit.spoken and text else ()

    async def _pressed(self, visit: Visit, press: Pressed) -> None:
        """A button says its words; under a question that was answered it passes, or the change is offered."""
        if await self._engine.turn(visit.id):
            await self._done(visit.update)
            return
        tap = await self._taps.meant(visit, press)
        self._fetcher.acknowledge(press.query, tap.toast if isinstance(tap, Ignores) else "")
        if press.message is not None and not (isinstance(tap, Answers) and tap.stays):
            self._keyboards.close(visit.chat, press.message)
        match tap:
            case Answers(words):
                await self._text(visit, words)
            case Ignores():
                await self._done(visit.update)
            case Offers(message):
                await self._done(visit.update, visit.line(message))
            case Changes(turn, words):
                await self._done(visit.update, *await self._replacement.replaced(visit, turn, words))
            case other:
                assert_never(other)

    def _spoken(self, one: Incoming) -> Language:
        return client_language(one) or self._settings.language

    def _failed(self, one: Incoming) -> Outgoing:
        message = self._texts.message(ChatKey.FAILED, self._spoken(one))
        return Outgoing(f"notice:{one.update_id}", one.conversation, message, one.received_at)

    async def _turn_away(self, one: Incoming, why: str, text: str, since: datetime | None = None) -> None:
        """Say something to a chat that is not said there again, or not for a while."""
        said = f"{why}:{one.conversation}:"
        told = await self._engine.do(self._outbox.is_said, said, since)
        line = Outgoing(f"{said}{one.update_id}", one.conversation, TextMessage(text=text), one.received_at)
        await self._done(one, *(() if told else (line,)))

    async def _welcome(self, visit: Visit, language: Language) -> None:
        """Who somebody is here, or why an invitation did not let them in, and what is asked now."""
        reply = await self._engine.prompt(visit.talk)
        ways = await self._engine.ways(visit.talk)
        if visit.barred is not None:
            head = self._reception.refusal(visit.barred, language)
        else:
            head = await self._engine.do(self._reception.welcome, visit.member, language)
        buttons = reply.buttons or (self._reception.ways(visit.member, ways, language) if ways else ())
        seq = await self._engine.seq(visit.talk)
        text = f"{head}\n{reply.text}"
        await self._done(visit.update, visit.line(TextMessage(text=text, buttons=buttons, seq=seq)))

    async def _notice(self, visit: Visit, key: ChatKey, **values: str) -> None:
        message = self._texts.message(key, await self._engine.language(visit.talk), **values)
        await self._done(visit.update, visit.line(message), *await self._voiced(visit, message.text))

    async def _done(self, one: Incoming, *outgoing: Outgoing) -> None:
        await self._engine.do(self._inbox.done, one.update_id, datetime.now(UTC), outgoing)
        self._answered()
