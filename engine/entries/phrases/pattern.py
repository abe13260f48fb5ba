"""Patterns: the ways to say one thing, written as data.

``go [back | to the last one]`` is words, ``[ ]`` what may be left out, ``( | )`` a choice, ``<rule>`` something defined
elsewhere and ``+`` one or more times. The reader matches patterns and the speech grammar prints the same ones.

Each pattern finds every way in which it ``fits`` a text from a token on.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import product
from typing import NamedTuple, TypeAlias, assert_never

from engine.entries.phrases.match import Match, Matches, once
from engine.entries.phrases.tokens import fold, tokenize

END = ""
"""Stands behind the key of the last token."""
Keys: TypeAlias = tuple[str, ...]


class KeyedText(NamedTuple):
    """What patterns are matched against: the ``keys`` of its tokens with END behind them, and the fits of each rule."""

    keys: Keys
    rule: Callable[[str, int], Matches]


@dataclass(frozen=True)
class Word:
    """One token; ``key`` is how it is compared, without accents and capitals."""

    text: str

    @cached_property
    def key(self) -> str:
        return fold(self.text)

    def fits(self, text: KeyedText, start: int) -> Matches:
        return (Match(start + 1, ()),) if text.keys[start] == self.key else ()


@dataclass(frozen=True)
class Rule:
    name: str

    def fits(self, text: KeyedText, start: int) -> Matches:
        return text.rule(self.name, start)


@dataclass(frozen=True)
class Sequence:
    parts: tuple[Node, ...]

    @cached_property
    def words(self) -> Keys | None:
        """The keys of what is nothing but words."""
        keys = tuple(part.key for part in self.parts if isinstance(part, Word))
        return keys if len(keys) == len(self.parts) else None

    def fits(self, text: KeyedText, start: int) -> Matches:
        if self.words is not None:
            end = start + len(self.words)
            return (Match(end, ()),) if text.keys[start:end] == self.words else ()
        paths = self.parts[0].fits(text, start)
        for part in self.parts[1:]:
            if not paths:
                break
            paths = tuple(
                [Match(more.end, path.captures + more.captures) for path in paths for more in part.fits(text, path.end)]
            )
        return paths


@dataclass(frozen=True)
class Choice:
    options: tuple[Node, ...]

    @cached_property
    def _by_key(self) -> tuple[dict[str, tuple[Node, ...]], tuple[Node, ...]]:
        """The options that may begin with each key, and those that may begin with any other."""
        leads = [(option, openings(option)) for option in self.options]
        always = tuple(option for option, keys in leads if keys is None)
        known = frozenset().union(*(keys for _, keys in leads if keys))
        return {key: tuple(one for one, keys in leads if keys is None or key in keys) for key in known}, always

    def fits(self, text: KeyedText, start: int) -> Matches:
        by_key, always = self._by_key
        found = [fit for option in by_key.get(text.keys[start], always) for fit in option.fits(text, start)]
        return once(found) if len(found) > 1 else tuple(found)


@dataclass(frozen=True)
class Repeat:
    """One or more times."""

    part: Node

    def fits(self, text: KeyedText, start: int) -> Matches:
        paths = [*self.part.fits(text, start)]
        for path in paths:
            following = self.part.fits(text, path.end) if path.end > start else ()
            paths.extend(Match(more.end, path.captures + more.captures) for more in following)
        return tuple(paths)


Node: TypeAlias = Word | Rule | Sequence | Choice | Repeat
NOTHING = Sequence(())
NEVER = Choice(())

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


@lru_cache(maxsize=4096)
def typed(words: str, fillers: frozenset[str]) -> Node:
    """Plain words as they stand in a text whose fillers dropped out; never nothing."""
    tokens = tokenize(words, fillers) or tokenize(words)
    return Sequence(tuple(Word(token.text) for token in tokens)) if tokens else NEVER


@lru_cache(maxsize=4096)
def any_typed(options: tuple[str, ...], fillers: frozenset[str]) -> Node:
    """Any of these, each as in ``typed``."""
    return Choice(tuple(typed(words, fillers) for words in options))


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


class Leads(NamedTuple):
    """What a pattern may begin with: the keys of tokens, and rules."""

    keys: frozenset[str]
    rules: tuple[str, ...] = ()


def leads(node: Node) -> Leads | None:
    """What a pattern may begin with; None where it may be empty."""
    match node:
        case Word():
            return Leads(frozenset({node.key}))
        case Rule(name):
            return Leads(frozenset(), (name,))
        case Sequence(parts):
            return _leads_of(parts)
        case Choice(options):
            found = [leads(option) for option in options]
            return None if None in found else _either([one for one in found if one])
        case Repeat(part):
            return leads(part)
        case _:
            assert_never(node)


def _leads_of(parts: tuple[Node, ...]) -> Leads | None:
    """Those of the first part, and of what follows it where that may be left out."""
    if not parts:
        return None
    first = parts[0]
    if isinstance(first, Choice) and NOTHING in first.options:
        said = leads(Choice(tuple(option for option in first.options if option != NOTHING)))
        rest = _leads_of(parts[1:])
        return None if said is None or rest is None else _either([said, rest])
    return leads(first)


def _either(found: list[Leads]) -> Leads:
    keys = frozenset().union(*(one.keys for one in found))
    return Leads(keys, tuple(dict.fromkeys(rule for one in found for rule in one.rules)))


def openings(node: Node) -> frozenset[str] | None:
    """The keys of the tokens a pattern may begin with; None where a rule leaves that open or it may be empty."""
    found = leads(node)
    return None if found is None or found.rules else found.keys


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
