"""Words that are heard for one another, and words before which another is easily lost."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache

from engine.entries.phrases.pattern import Rule, Word, walk
from engine.entries.phrases.phrase import Meaning
from engine.entries.phrases.tokens import Token, fold, tokenize
from engine.entries.phrases.vocabulary import Vocabulary
from engine.messages import Confusion


@lru_cache(maxsize=8)
def sound_alikes(vocabulary: Vocabulary) -> Mapping[str, tuple[str, ...]]:
    """For each word that sounds like others, those others."""
    partners: dict[str, tuple[str, ...]] = {}
    for one, other in vocabulary.sound_alikes:
        partners[fold(one)] = (*partners.get(fold(one), ()), other)
        partners[fold(other)] = (*partners.get(fold(other), ()), one)
    return partners


def exchanged(text: str, span: tuple[int, int], confusions: Iterable[Confusion]) -> Iterator[str]:
    """The text with one thing in a span of it changed for what this voice may have said instead."""
    begin, end = span
    tokens = tuple(token for token in tokenize(text) if begin <= token.start and token.end <= end)
    for one in confusions:
        for start, stop in _places(one.heard, tokens):
            yield f"{text[:start]}{one.said}{text[stop:]}"


def _places(words: str, tokens: Sequence[Token]) -> Iterator[tuple[int, int]]:
    """Where words stand among tokens, from and to."""
    wanted = [token.key for token in tokenize(words)]
    for at in range(len(tokens) - len(wanted) + 1 if wanted else 0):
        found = tokens[at : at + len(wanted)]
        if [token.key for token in found] == wanted:
            yield found[0].start, found[-1].end


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
