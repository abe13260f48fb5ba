"""Words that are heard for one another, and words before which another is easily lost."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from engine.entries.pattern import Rule, Word, walk
from engine.entries.phrase import Meaning
from engine.entries.tokens import fold
from engine.entries.vocabulary import Vocabulary


@lru_cache(maxsize=8)
def sound_alikes(vocabulary: Vocabulary) -> Mapping[str, tuple[str, ...]]:
    """For each word that sounds like others, those others."""
    partners: dict[str, tuple[str, ...]] = {}
    for one, other in vocabulary.sound_alikes:
        partners[fold(one)] = (*partners.get(fold(one), ()), other)
        partners[fold(other)] = (*partners.get(fold(other), ()), one)
    return partners


@lru_cache(maxsize=8)
def scales(vocabulary: Vocabulary) -> frozenset[str]:
    """The words that multiply the number before them, such as hundred."""
    rules = {
        part.name
        for phrases in vocabulary.rules.values()
        for one in phrases
        if one.means is Meaning.SCALE
        for part in walk(one.node)
        if isinstance(part, Rule)
    }
    tables = [vocabulary.numbers.words[name] for name in rules & set(vocabulary.numbers.words)]
    return frozenset(
        part.text
        for table in tables
        for digits, phrases in table.items()
        if digits in ("100", "1000")
        for one in phrases
        for part in walk(one.node)
        if isinstance(part, Word)
    )
