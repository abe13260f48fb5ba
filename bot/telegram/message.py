"""A reply from the outbox as chat messages: short enough, with buttons that a gloved thumb hits."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from telegram import InlineKeyboardButton, InlineKeyboardMarkup

from engine.messages import Button

LONGEST, CAPTION = 4096, 1024
CALLBACK_BYTES = 64
_SENTENCE_END = re.compile(r"(?<=[.!?…])\s+|\n+")


def parts(text: str, longest: int = LONGEST) -> list[str]:
    """The text in pieces of at most ``longest`` UTF-16 units, cut between lines, else sentences, words, anywhere.

    Lines stay lines.
    """
    if size(text) <= longest:
        return [text]
    pieces: list[str] = []
    for mark, part in _lines(text, longest):
        if pieces and size(joined := f"{pieces[-1]}{mark}{part}") <= longest:
            pieces[-1] = joined
        else:
            pieces.append(part)
    return pieces


def _lines(text: str, longest: int) -> Iterator[tuple[str, str]]:
    """Parts that are short enough, each with what stood before it."""
    for line in text.split("\n"):
        mark = "\n"
        for sentence in [line] if size(line) <= longest else _fitting(line, longest):
            yield mark, sentence
            mark = " "


def _fitting(text: str, longest: int) -> Iterator[str]:
    for sentence in _SENTENCE_END.split(text):
        if size(sentence) <= longest:
            yield sentence
        else:
            yield from _broken(sentence, longest)


def _broken(sentence: str, longest: int) -> Iterator[str]:
    for word in sentence.split(" "):
        room = longest // 2
        pieces = [word] if size(word) <= longest else [word[at : at + room] for at in range(0, len(word), room)]
        yield from pieces


def size(text: str) -> int:
    """How long a text is to the chat, in UTF-16 units."""
    return len(text.encode("utf-16-le")) // 2


def keyboard(buttons: Sequence[Button], seq: int) -> InlineKeyboardMarkup | None:
    """One wide button a line; its data says which turn it answers and what pressing it says."""
    rows = [
        [InlineKeyboardButton(button.label, callback_data=data)]
        for button in buttons
        if len((data := f"{seq}:{button.says}").encode()) <= CALLBACK_BYTES
    ]
    return InlineKeyboardMarkup(rows) if rows else None


def pressed(data: str) -> tuple[int, str] | None:
    """The turn that a button answers and its words; None for data that none of our buttons has."""
    seq, _, says = data.partition(":")
    return (int(seq), says) if seq.isascii() and seq.isdigit() and says.strip() else None
