"""Random sentences out of a grammar text, to be read back: a small reader of JSGF of its own, for tests only."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator

from engine.entries.phrases.pattern import forms, parse_pattern

_RULE = re.compile(r"(?:public )?<(\w+)> = (.*);")


class Sentences:
    """Draws sentences from the rules of a grammar text."""

    def __init__(self, text: str, seed: int) -> None:
        self.rules = {match[1]: _parse(match[2]) for match in map(_RULE.fullmatch, text.splitlines()) if match}
        self.chance = random.Random(seed)

    def draw(self, rule: str = "utterance") -> str:
        return " ".join(self._words(self.rules[rule]))

    def _words(self, node: tuple) -> list[str]:
        kind, *inside = node
        if kind == "word":
            return [inside[0]]
        if kind == "rule":
            return self._words(self.rules[inside[0]])
        if kind == "choice":
            return self._words(self.chance.choice(inside))
        if kind == "maybe":
            return self._words(inside[0]) if self.chance.random() < 0.5 else []
        if kind == "repeat":
            return [word for _ in range(self.chance.randint(1, 2)) for word in self._words(inside[0])]
        return [word for part in inside for word in self._words(part)]


def _parse(text: str) -> tuple:
    pieces = re.findall(r"<\w+>|[()\[\]|+]|[^\s<>()\[\]|+]+", text)
    node = _choice(pieces)
    assert not pieces, text
    return node


def _choice(pieces: list[str]) -> tuple:
    options = [_sequence(pieces)]
    while pieces and pieces[0] == "|":
        pieces.pop(0)
        options.append(_sequence(pieces))
    return ("choice", *options) if len(options) > 1 else options[0]


def _sequence(pieces: list[str]) -> tuple:
    parts = []
    while pieces and pieces[0] not in ("|", ")", "]"):
        part = _single(pieces.pop(0), pieces)
        if pieces and pieces[0] == "+":
            pieces.pop(0)
            part = ("repeat", part)
        parts.append(part)
    assert parts
    return ("sequence", *parts)


def _single(piece: str, pieces: list[str]) -> tuple:
    if piece in ("(", "["):
        inside = _choice(pieces)
        assert pieces.pop(0) == (")" if piece == "(" else "]")
        return inside if piece == "(" else ("maybe", inside)
    return ("rule", piece[1:-1]) if piece.startswith("<") else ("word", piece)


def spelt(*patterns: str) -> Iterator[str]:
    """Every way in which these patterns of words can be said."""
    yield from (" ".join(form) for pattern in patterns for form in forms(parse_pattern(pattern)))
