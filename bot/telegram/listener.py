"""What a chat says becomes turns: texts, voice notes, buttons and edits, each update once."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from datetime import UTC, datetime
from typing import assert_never

from bot.hear import utterance
from bot.settings import Settings
from bot.telegram.crew import Crew
from bot.telegram.fetching import Fetcher
from bot.telegram.message import pressed
from bot.telegram.mind import Mind
from bot.telegram.patience import Patience
from bot.telegram.reach import Reach
from bot.telegram.sending import aloud
from bot.telegram.texts import Key, Texts
from bot.telegram.update import (
    Blocked,
    Content,
    Edited,
    Elsewhere,
    Other,
    Pressed,
    Said,
    Voice,
    client_language,
    content,
    said_at,
)
from bot.telegram.voice import Deaf, Ears
from engine.errors import WorldError
from engine.history.journal import StoredTurn
from engine.inbox import Inbox, Incoming
from engine.messages import Language, Utterance
from engine.outbox import Outbox, Outgoing

LANGUAGE_WORDS: dict[Language, str] = {"en": "english", "es": "español"}
TAKEN_BACK = ("kept", "skipped")
CLOSING = {"started", "finished", "cancelled", "run_started", "switched"}
TRIES = 3
log = logging.getLogger("rowhand.telegram")


class Listener:
    """Handles one update after another of a chat; ``answered`` is called when something may wait in the outbox."""

    def __init__(
        self,
        mind: Mind,
        inbox: Inbox,
        outbox: Outbox,
        reach: Reach,
        crew: Crew,
        ears: Ears,
        fetcher: Fetcher,
        texts: Texts,
        settings: Settings,
        answered: Callable[[], None],
    ) -> None:
        self._mind, self._inbox, self._outbox, self._reach = mind, inbox, outbox, reach
        self._crew, self._ears, self._fetcher = crew, ears, fetcher
        self._texts, self._settings, self._answered = texts, settings, answered

    async def take(self, one: Incoming) -> None:
        """Handle an update to its end; a full disk is waited for, an update that breaks us is given up politely."""
        patience = Patience()
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
                    return await self._notice(one, Key.FAILED)

    async def _handle(self, one: Incoming) -> None:
        what = content(one)
        if isinstance(what, Elsewhere | Blocked) or await self._crew.admits(one.conversation, what):
            await self._admitted(one, what)
        else:
            log.warning("stranger update=%d", one.update_id)
            await self._once(one, self._crew.stranger(one.conversation, self._spoken(one)))

    async def _admitted(self, one: Incoming, what: Content) -> None:
        match what:
            case Said() as said:
                await self._said(one, said)
            case Voice() as voice:
                await self._voice(one, voice)
            case Pressed() as press:
                await self._pressed(one, press)
            case Edited(text):
                await self._edited(one, text)
            case Blocked(gone):
                await (self._reach.lose if gone else self._reach.regain)(one.conversation)
                await self._done(one)
            case Elsewhere():
                await self._elsewhere(one)
            case Other():
                await self._notice(one, Key.TEXT_OR_VOICE)
            case other:
                assert_never(other)

    async def _said(self, one: Incoming, said: Said) -> None:
        await self._greet(one)
        if said.command == "start":
            await self._prompt(one)
            return
        language = await self._mind.language(one.conversation)
        words = self._texts.words(said.command, language) if said.command else None
        await self._text(one, words or said.text)

    async def _text(self, one: Incoming, text: str) -> None:
        if len(text) > self._settings.text_characters:
            await self._notice(one, Key.TEXT_TOO_LONG, count=str(self._settings.text_characters))
            return
        turn = await self._hear(one, text)
        await self._done(one, *await self._crew.told(turn))

    async def _hear(self, one: Incoming, text: str, part: str = "") -> StoredTurn:
        """Take a turn; ``part`` names a step on the way whose reply nobody needs."""
        heard = Utterance(
            id=f"telegram:{one.update_id}{part}",
            conversation=one.conversation,
            text=text,
            language=await self._mind.language(one.conversation),
            said_at=said_at(one),
        )
        return await self._mind.hear(heard, deliver=not part)

    async def _greet(self, one: Incoming) -> None:
        """A conversation begins in the language of the client."""
        wanted = client_language(one)
        if wanted is None or await self._mind.seq(one.conversation):
            return
        if wanted != await self._mind.language(one.conversation):
            await self._hear(one, LANGUAGE_WORDS[wanted], ":language")

    async def _voice(self, one: Incoming, voice: Voice) -> None:
        await self._greet(one)
        if voice.seconds > self._settings.voice_seconds:
            await self._notice(one, Key.VOICE_TOO_LONG, count=f"{self._settings.voice_seconds:g}")
            return
        if voice.size > self._settings.voice_bytes:
            await self._notice(one, Key.VOICE_TOO_LARGE)
            return
        sound = await self._fetcher.fetch(voice.file_id, self._settings.voice_bytes)
        if isinstance(sound, Key):
            await self._notice(one, sound)
            return
        language, grammar = await self._mind.ready(one.conversation)
        heard = await self._ears.hear(sound, language, grammar)
        if isinstance(heard, Deaf):
            await self._notice(one, heard.why, count=f"{self._settings.voice_seconds:g}")
            return
        place = {"id": f"telegram:{one.update_id}", "conversation": one.conversation, "said_at": said_at(one)}
        turn = await self._mind.hear(utterance(heard, language).model_copy(update=place))
        said = turn.reply.speech or turn.reply.text
        await self._done(one, *await self._voiced(one, said), *await self._crew.told(turn))

    async def _voiced(self, one: Incoming, text: str) -> tuple[Outgoing, ...]:
        """The text as a voice note too, for somebody who spoke."""
        if not isinstance(content(one), Voice):
            return ()
        body = aloud(text, await self._mind.language(one.conversation))
        return (Outgoing(f"voice:{one.update_id}", one.conversation, body, one.received_at),)

    async def _pressed(self, one: Incoming, press: Pressed) -> None:
        """A button of the question that is open says its words; an older one says that it is old."""
        self._fetcher.acknowledge(press.query)
        if await self._mind.turn(f"telegram:{one.update_id}"):
            await self._done(one)
            return
        answer = pressed(press.data)
        if answer is None or answer[0] != await self._mind.seq(one.conversation):
            await self._prompt(one, Key.OLD_BUTTON)
            return
        await self._text(one, answer[1])

    async def _edited(self, one: Incoming, text: str) -> None:
        """The last turn is taken back and its new words heard; further back only the person can correct."""
        before = await self._mind.do(self._inbox.earlier, one)
        old = await self._mind.turn(f"telegram:{before}") if before else None
        steps = await self._mind.after(one.conversation, old.seq) if old else ()
        mine = f"telegram:{one.update_id}"
        others = [turn for turn in steps if not f"{turn.utterance_id}:".startswith(f"{mine}:")]
        if old is None or others or _closed(old):
            await self._notice(one, Key.EDITED_EARLIER)
            return
        kept = sum(fact["kind"] in TAKEN_BACK for fact in old.facts)
        scratch = self._texts.commands["scratch"].says.template(await self._mind.language(one.conversation))
        for number in range(kept):
            await self._hear(one, scratch, f":scratch{number}")
        await self._text(one, text)

    async def _elsewhere(self, one: Incoming) -> None:
        """A group hears one polite line, once."""
        text = self._texts.say(Key.GROUP, self._spoken(one))
        await self._once(one, self._line(one, f"group:{one.conversation}", text))

    def _spoken(self, one: Incoming) -> Language:
        return client_language(one) or self._settings.language

    async def _once(self, one: Incoming, line: Outgoing) -> None:
        """Say something that is never said again."""
        told = await self._mind.do(self._outbox.find, line.key)
        await self._done(one, *(() if told else (line,)))

    async def _prompt(self, one: Incoming, before: Key | None = None) -> None:
        """What is asked now, with its buttons, and with a line before it."""
        language = await self._mind.language(one.conversation)
        reply = await self._mind.prompt(one.conversation)
        text = f"{self._texts.say(before, language)} {reply.text}" if before else reply.text
        shown: dict[str, object] = {"buttons": [button.model_dump() for button in reply.buttons]}
        shown["seq"] = await self._mind.seq(one.conversation)
        await self._done(one, self._line(one, f"notice:{one.update_id}", text, **shown))

    async def _notice(self, one: Incoming, key: Key, **values: str) -> None:
        text = self._texts.say(key, await self._mind.language(one.conversation), **values)
        await self._done(one, self._line(one, f"notice:{one.update_id}", text), *await self._voiced(one, text))

    def _line(self, one: Incoming, key: str, text: str, **more: object) -> Outgoing:
        return Outgoing(key, one.conversation, {"text": text, **more}, one.received_at)

    async def _done(self, one: Incoming, *outgoing: Outgoing) -> None:
        await self._mind.do(self._inbox.done, one.update_id, datetime.now(UTC), outgoing)
        self._answered()


def _closed(turn: StoredTurn) -> bool:
    """Whether a turn began or ended something, so that taking back its values does not undo it."""
    return any(fact["kind"] in CLOSING for fact in turn.facts)
