"""Leads somebody through a lesson aloud: one thing at a time is asked for, heard, and counted at the end."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from bot.voice.lesson import VoiceLesson, confused, nearly
from bot.voice.memory import VoiceMemory
from bot.voice.texts import LessonKey, VoiceTexts
from engine.entries.acceptance import load_acceptance
from engine.errors import RowhandError
from engine.messages import Language
from speech.transcript import Transcript


class Tutor:
    """At most one lesson at a time; ``language`` is that of the lesson, None while there is none.

    ``outcome`` is what came of the last lesson that was read to its end; ``ended`` is called after each one.
    """

    def __init__(self, texts: VoiceTexts, memory: VoiceMemory) -> None:
        self.texts, self.memory = texts, memory
        self.language: Language | None = None
        self.outcome: str | None = None
        self.ended: Callable[[], None] = lambda: None
        self._lesson = VoiceLesson((), 0.0)

    def open(self, language: Language) -> str:
        """Begin; gives what to say first."""
        self.language = language
        self._lesson = VoiceLesson(self.texts.read(language), load_acceptance().value_kept)
        return f"{self._say(LessonKey.BEGIN)} {self.prompt()}"

    def leave(self) -> None:
        """End the lesson; nothing of it is kept."""
        self.language = None
        self.ended()

    @property
    def grammar(self) -> str:
        return self._lesson.grammar

    def prompt(self) -> str:
        """What is to be read now."""
        assert self.language is not None
        return self.texts.asks(self._lesson.wanted or "", self._lesson.tries > 0, self.language)

    def read_all(self, language: Language, readings: Iterable[tuple[str, Transcript]]) -> str:
        """A whole lesson of recordings, each with what was said in it; gives what came of it."""
        sure, found = load_acceptance().value_kept, tuple(readings)
        self.language = language
        read = {said for said, _ in found}
        self._lesson = VoiceLesson(
            (),
            sure,
            pairs=tuple(pair for said, heard in found for pair in confused(said, heard)),
            near=tuple(pair for said, heard in found for pair in nearly(said, heard, sure)),
            unheard=(
                *(said for said, heard in found if not heard.text),
                *(one for one in self.texts.read(language) if one not in read),
            ),
        )
        return self._end()

    def take(self, heard: Transcript) -> str:
        """Take one reading; gives what to say next, and at the end of the lesson what came of it."""
        self._lesson = self._lesson.heard(heard)
        return self.prompt() if self._lesson.wanted is not None else self._end()

    def _end(self) -> str:
        language, lesson = self.language, self._lesson
        assert language is not None
        told = self._told(lesson.pairs, lesson.unheard)
        try:
            self.memory.learn(lesson.pairs, language, lesson.near)
        except RowhandError:
            told = self._say(LessonKey.FAILED)
        self.language, self.outcome = None, told
        self.ended()
        return told

    def _told(self, pairs: Sequence[tuple[str, str]], unheard: Sequence[str]) -> str:
        assert self.language is not None
        first = self.texts.learned(pairs, self.language)
        return f"{first} {self._say(LessonKey.UNHEARD, words=', '.join(unheard))}" if unheard else first

    def _say(self, key: LessonKey, **values: str) -> str:
        assert self.language is not None
        return self.texts.say(key, self.language, **values)
