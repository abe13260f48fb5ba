"""Learning a voice by voice notes: each reads what was asked last, which also says where the lesson stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from bot.hearing import FailedHearing, HearingPool
from bot.telegram.texts import YES, ChatKey, ChatOrder, ChatTexts, button
from bot.telegram.updates.update import ALOUD, Visit
from bot.telegram.worker import EngineWorker
from bot.voice.lesson import VoiceLesson, lesson_grammar
from bot.voice.texts import LessonKey, VoiceTexts
from engine.crew.roles import Act
from engine.entries.acceptance import load_acceptance
from engine.errors import RowhandError
from engine.messages import Language
from engine.queues.outbox import Outbox, Outgoing
from engine.queues.outbox_message import TextMessage
from speech.transcript import Transcript

LAPSES = timedelta(minutes=15)
"""A voice note that comes later than this after what was to be read is no reading (own decision)."""
KEY = "lesson"
LESSON = ChatOrder(Act.VOICE, YES)
"""What begins a lesson."""


@dataclass(frozen=True)
class LessonPlace:
    """What is to be read now: word ``at`` of the lesson in a language, after ``tries`` readings that were not heard."""

    language: Language
    at: int = 0
    tries: int = 0

    def key(self, update: int) -> str:
        """The key of the message that asks for it."""
        return f"{KEY}:{self.language}:{self.at}:{self.tries}:{update}"

    @classmethod
    def of(cls, key: str) -> LessonPlace | None:
        """The place that a message asks for; None where it asks for none."""
        kind, *rest = key.split(":")
        if kind != KEY:
            return None
        language, at, tries, _ = rest
        return cls(language, int(at), int(tries))


class Lessons:
    """Lessons of all chats. A lesson is open while the newest message of its chat asks for a reading."""

    def __init__(self, engine: EngineWorker, outbox: Outbox, ears: HearingPool, chat: ChatTexts) -> None:
        self._engine, self._outbox, self._ears, self._chat = engine, outbox, ears, chat
        self._texts = VoiceTexts.load()

    def begin(self, visit: Visit, language: Language) -> Outgoing:
        """Ask for the first reading."""
        first = self._texts.say(LessonKey.BEGIN, language)
        return self._asks(visit, LessonPlace(language), first)

    async def heard(self, visit: Visit, sound: bytes) -> Outgoing | None:
        """Take a voice note as a reading, and say what is to be read next; None where no lesson is open."""
        place = await self._place(visit)
        if place is None:
            return None
        heard = await self._ears.hear(sound, place.language, lesson_grammar(self._texts.read(place.language)))
        return await self._read(visit, place, heard)

    async def _place(self, visit: Visit) -> LessonPlace | None:
        newest = await self._engine.do(self._outbox.newest, visit.chat, visit.update.received_at, ALOUD)
        if newest is None or visit.update.received_at - newest.due_at > LAPSES:
            return None
        return LessonPlace.of(newest.key)

    async def _read(self, visit: Visit, place: LessonPlace, heard: Transcript | FailedHearing) -> Outgoing:
        """Count one reading; gives what is to be read next, at the end what is asked from now on."""
        before = self._lesson(place)
        after = before.heard(Transcript((), (), "", 0.0) if isinstance(heard, FailedHearing) else heard)
        told = [self._texts.say(LessonKey.UNHEARD, place.language, words=one) for one in after.unheard]
        try:
            await self._engine.do(self._engine.voice(visit.chat).learn, after.pairs, place.language, after.near)
        except RowhandError:
            return self._says(visit, self._texts.say(LessonKey.FAILED, place.language))
        if after.wanted is None:
            return self._says(
                visit, " ".join((*told, await self._engine.do(self._outcome, visit.chat, place.language)))
            )
        return self._asks(visit, LessonPlace(place.language, after.at, after.tries), *told)

    def _lesson(self, place: LessonPlace) -> VoiceLesson:
        words = self._texts.read(place.language)
        return VoiceLesson(words, load_acceptance().value_kept, at=place.at, tries=place.tries)

    def _outcome(self, chat: str, language: Language) -> str:
        """What is asked of this voice from now on."""
        asked = [one for one in self._engine.voice(chat).known(language).pairs if one.is_asked]
        return self._texts.learned([(one.said, one.heard) for one in asked], language)

    def _asks(self, visit: Visit, place: LessonPlace, *before: str) -> Outgoing:
        wanted, language = self._texts.read(place.language)[place.at], place.language
        asked = self._texts.asks(wanted, place.tries > 0, language)
        leave = button(self._chat.say(ChatKey.VOICE_LEAVE, language), "/voice")
        message = TextMessage(text=" ".join((*before, asked)), buttons=(leave,))
        return Outgoing(place.key(visit.update.update_id), visit.chat, message, visit.update.received_at)

    def _says(self, visit: Visit, text: str) -> Outgoing:
        return visit.line(TextMessage(text=text))
