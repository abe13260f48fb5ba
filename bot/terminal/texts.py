"""What ``rowhand talk`` itself says and takes at a terminal, from its definition file."""

from __future__ import annotations

from enum import StrEnum
from typing import Self

from pydantic import model_validator

from engine.data.definitions import PlacedError
from engine.data.texts import TextKey, Texts, Words
from engine.messages import Language


class TerminalKey(TextKey):
    """Every text of the terminal."""

    PROMPT = "prompt"
    STRANGER = "stranger", "opening"
    OPEN = "open", "dialog", "since"
    OPEN_FOR = "open_for", "dialog", "days"
    ENDED = "ended"
    INTERRUPTED = "interrupted"
    NAME_OR_END = "name_or_end", "word"
    SUMMARY_ASKED = "summary_asked"


class OwnLine(StrEnum):
    """Lines that are for the terminal: end it, yes or no to whether that was meant, and the short word for what was
    done last, which the chat has for itself."""

    END = "end"
    YES = "yes"
    NO = "no"
    SUMMARY = "summary"


class TerminalTexts(Texts[TerminalKey]):
    """All texts by key, and the phrases of every line of its own."""

    file = "channels/terminal.yaml"

    phrases: dict[OwnLine, Words]

    @model_validator(mode="after")
    def _all_lines(self) -> Self:
        missing = [line for line in OwnLine if line not in self.phrases]
        if missing:
            raise PlacedError(("phrases",), f"{missing[0]} is missing", "add its phrases in every language")
        return self

    def ends(self, line: str) -> bool:
        """Whether a whole line ends the program, in any language: nobody looks up the word for leaving."""
        return any(_plain(line) in words for words in self.phrases[OwnLine.END].root.values())

    def meant(self, line: str, language: Language) -> str:
        """What a line says to the dialog: a short word is said in full."""
        return self.say(TerminalKey.SUMMARY_ASKED, language) if self.answers(line, OwnLine.SUMMARY, language) else line

    def answers(self, line: str, own: OwnLine, language: Language) -> bool:
        """Whether a whole line is this answer."""
        return _plain(line) in self.phrases[own].of(language)


def _plain(line: str) -> str:
    return " ".join(line.casefold().strip(" .!¡").split())
