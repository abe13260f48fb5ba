"""What the hands-free channel itself says and hears, from its definition file."""

from __future__ import annotations

from enum import StrEnum
from functools import lru_cache
from typing import Literal, Self

from pydantic import model_validator

from engine.definitions import dialogs_directory, read_definition
from engine.dialog.text import Text, Words
from engine.messages import Language, Message


class Key(StrEnum):
    """Every text of the channel; the last four stand beside the level meter."""

    BEGIN = "begin"
    HOLD = "hold"
    GO_ON = "go_on"
    TOO_LONG = "too_long"
    NO_EARS = "no_ears"
    NO_VOICE = "no_voice"
    MICROPHONE_LOST = "microphone_lost"
    MICROPHONE_BACK = "microphone_back"
    LOUDSPEAKER_LOST = "loudspeaker_lost"
    LISTENING = "listening"
    HELD = "held"
    SPEAKING = "speaking"
    DEAF = "deaf"


class Order(StrEnum):
    """What is said to the channel and not to the dialog: wait, or listen again."""

    HOLD = "hold"
    GO_ON = "go_on"


class Texts(Message):
    """All texts by key, and the phrases of every order."""

    format: Literal["1"]
    texts: dict[Key, Text]
    phrases: dict[Order, Words]

    @model_validator(mode="after")
    def _all_there(self) -> Self:
        missing = {*Key, *Order} - {*self.texts, *self.phrases}
        if missing:
            raise ValueError(f"{min(missing)} is missing")
        return self

    def say(self, key: Key, language: Language, **values: str) -> str:
        return self.texts[key].fill(language, values)

    def ordered(self, text: str, language: Language) -> Order | None:
        """The order that a whole utterance is, None for anything else."""
        return next((order for order, words in self.phrases.items() if text in words.of(language)), None)

    def rule(self, order: Order, language: Language) -> str:
        """The phrases of an order as one public rule of a JSGF text."""
        return f"public <channel_{order}> = {' | '.join(self.phrases[order].of(language))};\n"


@lru_cache(maxsize=1)
def load_texts() -> Texts:
    """Raises DefinitionError where the file is wrong."""
    return read_definition(dialogs_directory() / "channels" / "handsfree.yaml").into(Texts)
