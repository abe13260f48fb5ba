"""What is said while a voice is learned, and the words that are read for it, from its definition file."""

from __future__ import annotations

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

    def read(self, language: Language) -> tuple[str, ...]:
        """What is read in a language, in order."""
        return self.lesson.of(language)
