"""What the hands-free channel itself says and hears, from its definition file."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from functools import cached_property
from typing import Self

from pydantic import model_validator

from engine.data.definitions import PlacedError
from engine.data.languages import LANGUAGES
from engine.data.texts import TextKey, Texts, Words
from engine.entries.grammar_text import public_rule
from engine.entries.phrases.channel_phrases import ChannelPhrases
from engine.messages import Language


class HandsfreeKey(TextKey):
    """Every text of the channel; the last four stand beside the level meter."""

    BEGIN = "begin"
    HOLD = "hold"
    GO_ON = "go_on"
    TOO_LONG = "too_long", "count"
    NO_EARS = "no_ears"
    LESSON_LEFT = "lesson_left"
    SUMMARY_ASKED = "summary_asked"
    NO_VOICE = "no_voice"
    MICROPHONE_LOST = "microphone_lost"
    MICROPHONE_BACK = "microphone_back", "name"
    LOUDSPEAKER_LOST = "loudspeaker_lost"
    LISTENING = "listening"
    HELD = "held"
    SPEAKING = "speaking"
    DEAF = "deaf"


class HandsfreeOrder(StrEnum):
    """What is said to the channel and not to the dialog: wait, listen again, learn this voice, or leave that;
    and the short word for what was done last, which the chat has for itself."""

    HOLD = "hold"
    GO_ON = "go_on"
    LEARN = "learn"
    LEAVE_LESSON = "leave_lesson"
    SUMMARY = "summary"


class HandsfreeTexts(Texts[HandsfreeKey]):
    """All texts by key, and the phrases of every order."""

    file = "channels/handsfree.yaml"

    phrases: dict[HandsfreeOrder, Words]

    @model_validator(mode="after")
    def _all_orders(self) -> Self:
        missing = [order for order in HandsfreeOrder if order not in self.phrases]
        if missing:
            raise PlacedError(("phrases",), f"{missing[0]} is missing", "add its phrases in every language")
        self._asked.keys()  # every phrase is read now, and refused here
        return self

    def ordered(self, text: str, language: Language) -> HandsfreeOrder | None:
        """The order that a whole utterance is, None for anything else."""
        return self._asked[language].whole(text)

    @cached_property
    def _asked(self) -> Mapping[Language, ChannelPhrases[HandsfreeOrder]]:
        said = self.phrases.items()
        return {language: ChannelPhrases({order: one.of(language) for order, one in said}) for language in LANGUAGES}

    def rule(self, order: HandsfreeOrder, language: Language) -> str:
        """The phrases of an order as one public rule of a JSGF text."""
        return public_rule(f"channel_{order}", self.phrases[order].of(language))
