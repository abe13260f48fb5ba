"""Text as tokens: words, written numbers and marks, each with its place in the text."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from typing import TypeAlias

MOST_TOKENS = 200
MOST_CHARACTERS = 2000
_TOKEN = re.compile(
    r"(?P<number>[0-9]+(?:[.,][0-9]+)*|(?<![0-9])[.,][0-9]+)"
    r"|(?P<word>[^\W\d_¹²³¼½¾]+(?:['’][^\W\d_¹²³¼½¾]+)*)"
    r"|(?P<mark>\S)"
)
Keys: TypeAlias = tuple[str, ...]
_BREAKS = frozenset(",;.!?¿¡")
_SAME_MARKS = str.maketrans("’′”“″–—−⁄", '\'\'"""---/')


@dataclass(frozen=True, slots=True)
class Token:
    """One token: as written, as compared (``key``), and where it stands. ``is_break`` parts one entry from the next."""

    text: str
    key: str
    start: int
    end: int
    is_number: bool = False
    is_break: bool = False

    @property
    def stands_out(self) -> bool:
        """Whether it begins with a capital or has a digit, as a name or a code does."""
        return self.text[:1].isupper() or has_digit(self.text)


def has_digit(text: str) -> bool:
    return any(map(str.isdigit, text))


@lru_cache(maxsize=8192)
def fold(text: str) -> str:
    """The form in which tokens are compared: small letters, no accents, plain marks."""
    apart = unicodedata.normalize("NFKD", text).translate(_SAME_MARKS)
    return "".join(mark for mark in apart if not unicodedata.combining(mark)).casefold()


def tokenize(text: str, fillers: Collection[str] = (), kept: Collection[Keys] = ()) -> tuple[Token, ...]:
    """The tokens of a text. Hyphens inside words and ``fillers`` (folded) drop out, but not of ``kept`` words that are
    said alone, between breaks."""
    tokens = [token for token in map(_token, _TOKEN.finditer(text)) if not _glues(text, token)]
    clauses = (list(group) for _, group in groupby(tokens, lambda token: token.is_break))
    return tuple(token for clause in clauses for token in _without(clause, fillers, kept))


def _without(clause: list[Token], fillers: Collection[str], kept: Collection[Keys]) -> list[Token]:
    if kept and tuple(token.key for token in clause) in kept:
        return clause
    return [token for token in clause if token.key not in fillers]


def _token(match: re.Match[str]) -> Token:
    text = match[0]
    return Token(
        text=text,
        key=fold(text),
        start=match.start(),
        end=match.end(),
        is_number=match["number"] is not None,
        is_break=text in _BREAKS,
    )


def _glues(text: str, token: Token) -> bool:
    """Whether a token is a hyphen between two letters, as in forty-nine."""
    inside = token.start > 0 and token.end < len(text)
    return token.key == "-" and inside and text[token.start - 1].isalpha() and text[token.end].isalpha()
