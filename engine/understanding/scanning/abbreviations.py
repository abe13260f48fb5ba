"""Dots that end an abbreviation and no clause: "Marvin C. Stahl Jr.", "Sec. 17"."""

from __future__ import annotations

import re
from functools import lru_cache

from engine.entries.phrases.tokens import fold
from engine.entries.phrases.vocabulary import Vocabulary

_INITIAL = re.compile(r"(?<![\w.])([A-Z])\.(?=\s+[A-Z][^\W\d_])")


@lru_cache(maxsize=8)
def _pattern(vocabulary: Vocabulary) -> re.Pattern[str]:
    """A word that is abbreviated so, with a capital, or before a number."""
    words = sorted(vocabulary.naming.abbreviated, key=len, reverse=True)
    capital = "|".join(re.escape(form) for word in words for form in (word.capitalize(), word.upper()))
    small = "|".join(map(re.escape, words))
    return re.compile(rf"(?<!\w)(?:({capital})\.(?=[\s,;]|$)|({small})\.(?=\s*\d))")


def without_dots(text: str, vocabulary: Vocabulary) -> str:
    """The text without the dots behind abbreviations and initials."""
    plain = _INITIAL.sub(r"\1", text)
    return _pattern(vocabulary).sub(lambda match: match[1] or match[2], plain)


def with_dots(value: str, typed: str, vocabulary: Vocabulary) -> str:
    """A text that was taken from one without dots as it was typed."""
    words = value.split()
    found = re.search(r"(?<!\w)" + r"\.?\s+".join(map(re.escape, words)) + r"(?!\w)", typed) if words else None
    if found is None:
        return value
    ends = fold(words[-1]) in map(fold, vocabulary.naming.abbreviated) and typed[found.end() :].startswith(".")
    return found[0] + ("." if ends else "")
