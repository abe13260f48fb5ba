"""What the chat channel itself says, from its definition file."""

from __future__ import annotations

from enum import StrEnum
from functools import lru_cache
from typing import Literal, Self

from pydantic import model_validator

from engine.definitions import dialogs_directory, read_definition
from engine.dialog.text import Text
from engine.messages import Language, Message


class Key(StrEnum):
    """Every text of the channel."""

    GROUP = "group"
    TEXT_OR_VOICE = "text_or_voice"
    TEXT_TOO_LONG = "text_too_long"
    VOICE_EMPTY = "voice_empty"
    VOICE_CUT = "voice_cut"
    VOICE_TOO_LONG = "voice_too_long"
    VOICE_TOO_LARGE = "voice_too_large"
    VOICE_NOT_AUDIO = "voice_not_audio"
    VOICE_UNREADABLE = "voice_unreadable"
    VOICE_NOT_FETCHED = "voice_not_fetched"
    VOICE_NO_EARS = "voice_no_ears"
    OLD_BUTTON = "old_button"
    EDITED_EARLIER = "edited_earlier"
    FAILED = "failed"
    PERHAPS_AGAIN = "perhaps_again"
    STRANGER = "stranger"
    RUN_FINISHED = "run_finished"
    RUN_ROW = "run_row"
    RUN_ROW_OPEN = "run_row_open"
    OPERATOR_GONE = "operator_gone"


class MenuCommand(Message):
    """One entry of the menu: the words it stands for, and what it is for."""

    says: Text
    about: Text


class Texts(Message):
    """All texts by key, and the menu by command."""

    format: Literal["1"]
    texts: dict[Key, Text]
    commands: dict[str, MenuCommand]

    @model_validator(mode="after")
    def _all_there(self) -> Self:
        missing = set(Key) - self.texts.keys()
        if missing:
            raise ValueError(f"{min(missing)} is missing")
        return self

    def say(self, key: Key, language: Language, **values: str) -> str:
        return self.texts[key].fill(language, values)

    def words(self, command: str, language: Language) -> str | None:
        """What a command of the menu says, None for one that is not in it."""
        known = self.commands.get(command)
        return known.says.template(language) if known else None


@lru_cache(maxsize=1)
def load_texts() -> Texts:
    """Raises DefinitionError where the file is wrong."""
    return read_definition(dialogs_directory() / "channels" / "chat.yaml").into(Texts)
