"""How numbers, the marks of a dial and moments are said, as a vocabulary holds them."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from engine.entries.phrases.phrase import Phrases
from engine.frozen_model import FrozenModel


class Part(FrozenModel):
    """A part of a vocabulary."""


class Spelling(Part):
    """How whole numbers are said: the rule with one way for each number below 1000, and the words for thousands."""

    below_thousand: str
    thousand: str
    one_thousand: str
    before_noun: dict[str, str]


class Numbers(Part):
    """Number words and how they combine. ``sizes`` are rules for up to 1, 2, 3 … digits, ``decimals`` for 1, 2, 3."""

    words: dict[str, dict[Annotated[str, Field(pattern=r"^\d+(\.\d+)?$")], Phrases]]
    rules: dict[str, Phrases]
    point: Phrases
    half: Phrases
    sizes: Annotated[tuple[str, ...], Field(min_length=4, max_length=4)]
    decimals: Annotated[tuple[str, ...], Field(min_length=3, max_length=3)]
    row: Phrases
    spelling: Spelling
    thousands_marks: tuple[str, ...]


class Dials(Part):
    numbered: Phrases
    lettered: Phrases
    signs: dict[str, tuple[str, ...]]


class TimePhrases(Part):
    """How a moment is said; ``starts`` and ``ends`` lead to the first and last ``within``. ``lengths`` are of so many
    minutes, ``halves`` those of a day."""

    clock: Phrases
    said: Phrases
    starts: Phrases
    ends: Phrases
    within: Phrases
    lengths: dict[Annotated[str, Field(pattern=r"^\d+$")], Phrases]
    halves: dict[Literal["am", "pm", "night"], Phrases]
