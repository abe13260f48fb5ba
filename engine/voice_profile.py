"""What the voice of one person is heard for, in one language: pairs of what was said and what was heard, counted."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, StringConstraints, model_validator

from engine.data.definitions import PlacedError
from engine.data.languages import Language
from engine.entries.phrases.tokens import tokenize
from engine.frozen_model import FrozenModel
from engine.messages import Confusion

MOST_PAIRS, MOST_COUNT, MOST_LETTERS = 500, 9999, 40
MOST_TURNS = 50
"""Turns that are remembered as counted; what is done a second time is done soon after the first (own decision)."""
HINTS_ENOUGH = 2
"""Corrections and unsure readings of the same word after which it is asked (own decision)."""
NAME = re.compile(r"\w[\w ._-]{0,39}")
"""What a person may be called here."""


def _plain_words(text: str) -> str:
    tokens = tokenize(text)
    if not tokens or any(not token.key.replace("'", "").isalpha() for token in tokens):
        raise ValueError(f"{text!r} is not plain words")
    return text


def _name(text: str) -> str:
    if not NAME.fullmatch(text):
        raise ValueError(f"{text[:60]!r} cannot be the name of a voice")
    return text


Spoken = Annotated[str, StringConstraints(strip_whitespace=True, max_length=MOST_LETTERS), AfterValidator(_plain_words)]
PersonName = Annotated[str, AfterValidator(_name)]
TurnMark = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{16}$")]


class ConfusionSource(StrEnum):
    """What showed a confusion: a word of the lesson heard as another, or nearly, or a value that was corrected."""

    READ = "read"
    NEARLY = "nearly"
    CORRECTED = "corrected"


class HeardFor(FrozenModel):
    """How often ``heard`` was heard where ``said`` was said, in a lesson, nearly there, and by corrections."""

    said: Spoken
    heard: Spoken
    read: int = Field(default=0, ge=0, le=MOST_COUNT)
    nearly: int = Field(default=0, ge=0, le=MOST_COUNT)
    corrected: int = Field(default=0, ge=0, le=MOST_COUNT)

    @property
    def key(self) -> tuple[str, str]:
        return _folded(self.said), _folded(self.heard)

    @property
    def count(self) -> int:
        return self.read + self.nearly + self.corrected

    @property
    def is_asked(self) -> bool:
        """Heard as another it counts at once; one correction may be a change of mind, one unsure reading an engine."""
        return self.read > 0 or self.nearly + self.corrected >= HINTS_ENOUGH

    def once_more(self, shown: ConfusionSource) -> HeardFor:
        count: int = getattr(self, shown.value)
        return self.model_copy(update={shown.value: min(count + 1, MOST_COUNT)})


class VoiceProfile(FrozenModel):
    """The pairs of one person in one language, as its file holds them. Pairs are only ever added to.

    ``turns`` are marks of the last ones whose corrections were counted.
    """

    format: Literal["1"] = "1"
    person: PersonName
    language: Language
    pairs: tuple[HeardFor, ...] = Field(default=(), max_length=MOST_PAIRS)
    turns: tuple[TurnMark, ...] = Field(default=(), max_length=MOST_TURNS)

    @model_validator(mode="after")
    def _each_once(self) -> Self:
        keys = [pair.key for pair in self.pairs]
        for number, pair in enumerate(self.pairs):
            place = ("pairs", number)
            if pair.key[0] == pair.key[1]:
                raise PlacedError(place, f"{pair.said!r} is heard as itself", "remove it")
            if not pair.count:
                raise PlacedError(place, f"{pair.said!r} was never heard as {pair.heard!r}", "remove it")
            if pair.key in keys[:number]:
                raise PlacedError(place, f"{pair.said!r} heard as {pair.heard!r} stands twice", "keep one of them")
        return self

    def with_pairs(self, found: Iterable[tuple[str, str]], shown: ConfusionSource) -> VoiceProfile:
        """The profile with each of these (said, heard) counted once more.

        What is the same word is no pair; beyond ``MOST_PAIRS`` only pairs that are known already are counted.
        """
        pairs = {pair.key: pair for pair in self.pairs}
        for said, heard in found:
            new = HeardFor(said=said, heard=heard)
            if new.key[0] != new.key[1] and (new.key in pairs or len(pairs) < MOST_PAIRS):
                pairs[new.key] = pairs.get(new.key, new).once_more(shown)
        return self.model_copy(update={"pairs": tuple(pairs.values())})

    def with_corrections(self, found: Iterable[tuple[str, str]], utterance: str) -> VoiceProfile:
        """The profile with what the turn of an utterance corrected counted, once, however often it is told."""
        mark = hashlib.sha256(utterance.encode()).hexdigest()[:16]
        if mark in self.turns:
            return self
        counted = self.with_pairs(found, ConfusionSource.CORRECTED)
        return counted.model_copy(update={"turns": (*self.turns, mark)[-MOST_TURNS:]})

    def confusions(self, text: str) -> tuple[Confusion, ...]:
        """Those to be asked whose heard words stand in a text, the most frequent first."""
        keys = f" {_folded(text)} "
        found = [pair for pair in self.pairs if pair.is_asked and f" {_folded(pair.heard)} " in keys]
        return tuple(Confusion(heard=one.heard, said=one.said) for one in sorted(found, key=lambda one: -one.count))


def _folded(text: str) -> str:
    return " ".join(token.key for token in tokenize(text))
