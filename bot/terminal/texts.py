"""What ``rowhand talk`` itself says and takes at a terminal, from its definition file."""

from __future__ import annotations

from enum import StrEnum
from typing import Self

from pydantic import model_validator

from engine.definitions import PlacedError
from engine.messages import Language
from engine.texts import TextKey, Texts, Words


class Key(TextKey):
    """Every text of the terminal."""

    PROMPT = "prompt"
    STRANGER = "stranger", "opening"
    OPEN = "open", "dialog", "since"
    OPEN_FOR = "open_for", "dialog", "days"
    ENDED = "ended"
    INTERRUPTED = "interrupted"
    NAME_OR_END = "name_or_end", "word"


class Parting(StrEnum):
    """Lines that are for the terminal: end it, and yes or no to whether that was meant."""

    END = "end"
    YES = "yes"
    NO = "no"


class TerminalTexts(Texts[Key]):
    """All texts by key, and the phrases of every parting."""

    file = "channels/terminal.yaml"

    phrases: dict[Parting, Words]

    @model_validator(mode="after")
    def _all_partings(self) -> Self:
        missing = [parting for parting in Parting if parting not in self.phrases]
        if missing:
            raise PlacedError(("phrases",), f"{missing[0]} is missing", "add its phrases in every language")
        return self

    def ends(self, line: str) -> bool:
        """Whether a whole line ends the program, in any language: nobody looks up the word for leaving."""
        return any(_plain(line) in words for words in self.phrases[Parting.END].root.values())

    def answers(self, line: str, parting: Parting, language: Language) -> bool:
        """Whether a whole line is this answer."""
        return _plain(line) in self.phrases[parting].of(language)


def _plain(line: str) -> str:
    return " ".join(line.casefold().strip(" .!¡").split())
