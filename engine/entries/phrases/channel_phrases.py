"""What is asked of a channel and not of the dialog: patterns of words, written as those of the vocabulary."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Generic, TypeVar

from engine.entries.phrases.match import Matches
from engine.entries.phrases.pattern import END, KeyedText, Node, Rule, parse_pattern, walk
from engine.entries.phrases.tokens import Token, tokenize

Name = TypeVar("Name")


class ChannelPhrases(Generic[Name]):
    """Patterns by the name of what they ask for, found as the whole or as the beginning of a text."""

    def __init__(self, named: Mapping[Name, Iterable[str]]) -> None:
        """``named`` has the patterns of each name; ValueError where one is wrong or has more than words in it."""
        self._nodes = {name: tuple(map(_words, patterns)) for name, patterns in named.items()}

    def whole(self, text: str) -> Name | None:
        """What a text asks for that is such a phrase and nothing else; marks do not count."""
        tokens = _tokens(text)
        return next((name for name, end in self._found(tokens) if end == len(tokens)), None)

    def before(self, text: str) -> tuple[Name, str] | None:
        """What a text asks for that begins with such a phrase, the longest, and what stands behind it."""
        tokens = _tokens(text)
        found = [(end, name) for name, end in self._found(tokens) if end < len(tokens)]
        if not found:
            return None
        end, name = max(found, key=lambda one: one[0])
        return name, text[tokens[end].start :].strip()

    def _found(self, tokens: list[Token]) -> Iterator[tuple[Name, int]]:
        text = KeyedText((*(token.key for token in tokens), END), _no_rule)
        for name, nodes in self._nodes.items():
            for node in nodes:
                yield from ((name, match.end) for match in node.fits(text, 0))


def said_plainly(text: str) -> str:
    """The words and numbers of a text as they are compared, without marks."""
    return " ".join(token.key for token in _tokens(text))


def _words(pattern: str) -> Node:
    node = parse_pattern(pattern)
    if rules := [part.name for part in walk(node) if isinstance(part, Rule)]:
        raise ValueError(f"{pattern!r}: <{rules[0]}> is not known to a channel, whose phrases are words")
    return node


def _tokens(text: str) -> list[Token]:
    return [token for token in tokenize(text) if token.is_number or token.text[0].isalpha()]


def _no_rule(name: str, start: int) -> Matches:
    raise ValueError(f"a channel knows no <{name}>, at word {start + 1}")
