"""What is said while a voice is learned, and the words that are read for it, from its definition file."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Self

from pydantic import model_validator

from engine.data.definitions import PlacedError
from engine.data.languages import LANGUAGES
from engine.data.texts import TextKey, Texts, Words
from engine.messages import Language


class LessonKey(TextKey):
    """Every text of the lesson and of what is shown of a profile."""

    BEGIN = "begin"
    SAY = "say", "words"
    AGAIN = "again", "words"
    CLEAR = "clear"
    LEARNED = "learned", "pairs"
    PAIR = "pair", "said", "heard"
    UNHEARD = "unheard", "words"
    NO_PROFILE = "no_profile"
    PROFILE = "profile", "person", "tongue"
    LINE = "line", "said", "heard", "count"
    LINE_ONCE = "line_once", "said", "heard", "count"
    FORGOTTEN = "forgotten", "count"
    FAILED = "failed"


class VoiceTexts(Texts[LessonKey]):
    """All texts by key, and what is read in a lesson."""

    file = "channels/voice.yaml"

    lesson: Words

    @model_validator(mode="after")
    def _each_once(self) -> Self:
        for language in LANGUAGES:
            words = self.lesson.of(language)
            for number, one in enumerate(words):
                if one in words[:number]:
                    raise PlacedError(("lesson",), f"{one!r} stands twice", "read each once")
        return self

    def asks(self, words: str, again: bool, language: Language) -> str:
        """What is to be read now, ``again`` where it was not heard."""
        if again:
            return self.say(LessonKey.AGAIN, language, words=words)
        return self.say(LessonKey.SAY, language, words=words)

    def learned(self, pairs: Iterable[tuple[str, str]], language: Language) -> str:
        """What is asked from now on, each pair (said, heard) once; where there is none, that each word is clear."""
        lines = [self.say(LessonKey.PAIR, language, said=said, heard=heard) for said, heard in dict.fromkeys(pairs)]
        if not lines:
            return self.say(LessonKey.CLEAR, language)
        return self.say(LessonKey.LEARNED, language, pairs=" ".join(lines))

    def read(self, language: Language) -> tuple[str, ...]:
        """What is read in a language, in order."""
        return self.lesson.of(language)
