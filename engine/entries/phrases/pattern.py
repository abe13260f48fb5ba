"""Patterns: the ways to say one thing, written as data.

``go [back | to the last one]`` is words, ``[ ]`` what may be left out, ``( | )`` a choice, ``<rule>`` something defined
elsewhere and ``+`` one or more times. The reader matches patterns and the speech grammar prints the same ones.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import product
from typing import TypeAlias, assert_never

from engine.entries.phrases.tokens import fold, tokenize


@dataclass(frozen=True)
class Word:
    """One token; ``key`` is how it is compared, without accents and capitals."""

    text: str

    @cached_property
    def key(self) -> str:
        return fold(self.text)


@dataclass(frozen=True)
class Rule:
    name: str


@dataclass(frozen=True)
class Sequence:
    parts: tuple[Node, ...]


@dataclass(frozen=True)
class Choice:
    options: tuple[Node, ...]


@dataclass(frozen=True)
class Repeat:
    """One or more times."""

    part: Node


Node: TypeAlias = Word | Rule | Sequence | Choice | Repeat
NOTHING = Sequence(())

_PIECE = re.compile(r"<(\w+)>|([\[\]()|+])|([^\s\[\]()|<>+]+)")
_CLOSING = {"(": ")", "[": "]"}


@lru_cache(maxsize=4096)
def parse_pattern(text: str) -> Node:
    """Read a pattern; ValueError says what is wrong with it."""
    pieces = [(match[1], match[2], match[3]) for match in _PIECE.finditer(text)]
    node, rest = _choice(pieces, text)
    if rest:
        raise ValueError(f"{text!r}: a bracket closes nothing")
    if not any(walk(node)):
        raise ValueError("a pattern says at least one word")
    return node


@lru_cache(maxsize=8192)
def phrase(text: str) -> Node:
    """Plain words as a pattern, without any marks that mean something."""
    return Sequence(tuple(Word(token.text) for token in tokenize(text)))


_Pieces: TypeAlias = list[tuple[str, str, str]]


def _choice(pieces: _Pieces, text: str) -> tuple[Node, _Pieces]:
    options: list[Node] = []
    while True:
        option, pieces = _sequence(pieces, text)
        options.append(option)
        if not pieces or pieces[0][1] != "|":
            return (options[0] if len(options) == 1 else Choice(tuple(options))), pieces
        pieces = pieces[1:]


def _sequence(pieces: _Pieces, text: str) -> tuple[Node, _Pieces]:
    parts: list[Node] = []
    while pieces and pieces[0][1] not in ("|", ")", "]"):
        part, pieces = _single(pieces, text)
        if pieces and pieces[0][1] == "+":
            part, pieces = Repeat(part), pieces[1:]
        parts.append(part)
    return (parts[0] if len(parts) == 1 else Sequence(tuple(parts))), pieces


def _single(pieces: _Pieces, text: str) -> tuple[Node, _Pieces]:
    (name, mark, word), rest = pieces[0], pieces[1:]
    if name:
        return Rule(name), rest
    if word:
        return phrase(word), rest
    if mark not in _CLOSING:
        raise ValueError(f"{text!r}: {mark!r} has nothing before it")
    inside, rest = _choice(rest, text)
    if not rest or rest[0][1] != _CLOSING[mark]:
        raise ValueError(f"{text!r}: {mark!r} is not closed")
    return (Choice((inside, NOTHING)) if mark == "[" else inside), rest[1:]


def maybe(node: Node) -> Node:
    """A pattern or nothing."""
    return Choice((node, NOTHING))


def walk(node: Node) -> Iterator[Word | Rule]:
    """Every word and rule of a pattern, from left to right."""
    match node:
        case Word() | Rule():
            yield node
        case Sequence(parts) | Choice(parts):
            for part in parts:
                yield from walk(part)
        case Repeat(part):
            yield from walk(part)
        case _:
            assert_never(node)


def openings(node: Node) -> frozenset[str] | None:
    """The keys of the tokens a pattern may begin with; None where a rule leaves that open or it may be empty."""
    match node:
        case Word():
            return frozenset({node.key})
        case Rule():
            return None
        case Sequence(parts):
            return _opening_sequence(parts)
        case Choice(options):
            found = [openings(option) for option in options]
            return None if None in found else frozenset().union(*(keys for keys in found if keys))
        case Repeat(part):
            return openings(part)
        case _:
            assert_never(node)


def _opening_sequence(parts: tuple[Node, ...]) -> frozenset[str] | None:
    """Those of the first part, and of what follows it where that may be left out."""
    if not parts:
        return None
    first = parts[0]
    if isinstance(first, Choice) and NOTHING in first.options:
        said = openings(Choice(tuple(option for option in first.options if option != NOTHING)))
        rest = _opening_sequence(parts[1:])
        return None if said is None or rest is None else said | rest
    return openings(first)


def forms(node: Node) -> Iterator[tuple[str, ...]]:
    """Every way a pattern can be said, as keys of words and ``<rule>``; what may be repeated stands once."""
    match node:
        case Word():
            yield (node.key,)
        case Rule(name):
            yield (f"<{name}>",)
        case Sequence(parts):
            for said in product(*(tuple(forms(part)) for part in parts)):
                yield tuple(key for keys in said for key in keys)
        case Choice(options):
            for option in options:
                yield from forms(option)
        case Repeat(part):
            yield from forms(part)
        case _:
            assert_never(node)
