"""Finds every way in which a pattern fits a piece of a text. Time is bounded: each rule is tried once at each place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from collections.abc import Sequence as Items
from typing import NamedTuple, TypeAlias, assert_never

from engine.entries.matching.numeral import Numeral, combine, written, written_fraction
from engine.entries.phrases.pattern import Choice, Node, Repeat, Rule, Sequence, Word
from engine.entries.phrases.phrase import Phrase
from engine.entries.phrases.tokens import Token
from engine.entries.phrases.vocabulary import Vocabulary


class Capture(NamedTuple):
    """What a rule found: its name and its value."""

    name: str
    value: object


Captures: TypeAlias = tuple[Capture, ...]


class Match(NamedTuple):
    """One fit: the token after it, and what was found on the way."""

    end: int
    captures: Captures


Matches: TypeAlias = tuple[Match, ...]
Hook: TypeAlias = Callable[[int], Matches]


class Matcher:
    """Matches patterns of one vocabulary against one text. ``hooks`` are rules that depend on what is expected."""

    def __init__(self, tokens: Items[Token], vocabulary: Vocabulary) -> None:
        self.tokens = tokens
        self.vocabulary = vocabulary
        self.hooks: dict[str, Hook] = {"written": self._written, "written_fraction": self._fraction}
        self._found: dict[tuple[str, int], Matches] = {}

    def rule(self, name: str, start: int) -> Matches:
        """Every fit of a rule from ``start`` on."""
        key = (name, start)
        if key not in self._found:
            self._found[key] = _once(self._rule(name, start))
        return self._found[key]

    def match(self, node: Node, start: int) -> Matches:
        """Every fit of a pattern from ``start`` on."""
        match node:
            case Word():
                fits = start < len(self.tokens) and self.tokens[start].key == node.key
                return (Match(start + 1, ()),) if fits else ()
            case Rule(name):
                return self.rule(name, start)
            case Sequence(parts):
                return self._sequence(parts, start)
            case Choice(options):
                return _once([found for option in options for found in self.match(option, start)])
            case Repeat(part):
                return self._repeat(part, start)
            case _:
                assert_never(node)

    def _sequence(self, parts: tuple[Node, ...], start: int) -> Matches:
        paths = [Match(start, ())]
        for part in parts:
            if not paths:
                break
            paths = [
                Match(more.end, path.captures + more.captures) for path in paths for more in self.match(part, path.end)
            ]
        return tuple(paths)

    def _repeat(self, part: Node, start: int) -> Matches:
        paths = list(self.match(part, start))
        for path in paths:
            following = self.match(part, path.end) if path.end > start else ()
            paths.extend(Match(more.end, path.captures + more.captures) for more in following)
        return tuple(paths)

    def _rule(self, name: str, start: int) -> list[Match]:
        if hook := self.hooks.get(name):
            return list(hook(start))
        if table := self.vocabulary.numbers.words.get(name):
            return self._words(table, start)
        return [made for phrase in self.vocabulary.rules[name] for made in self._phrase(phrase, start)]

    def _words(self, table: Mapping[str, tuple[Phrase, ...]], start: int) -> list[Match]:
        return [
            Match(match.end, (_number(Numeral(digits)),))
            for digits, phrases in table.items()
            for phrase in phrases
            for match in self._phrase(phrase, start)
        ]

    def _phrase(self, phrase: Phrase, start: int) -> list[Match]:
        if phrase.openings is not None and (start >= len(self.tokens) or self.tokens[start].key not in phrase.openings):
            return []
        return [
            Match(match.end, captures)
            for match in self.match(phrase.node, start)
            for captures in _folded(phrase, match.captures)
        ]

    def _written(self, start: int) -> Matches:
        if start >= len(self.tokens) or not self.tokens[start].is_number:
            return ()
        found = written(self.tokens[start].text, self.vocabulary.numbers.thousands_marks)
        return tuple(Match(start + 1, (_number(numeral),)) for numeral in found)

    def _fraction(self, start: int) -> Matches:
        length, numeral = written_fraction([token.key for token in self.tokens[start : start + 3]])
        return (Match(start + length, (_number(numeral),)),) if numeral else ()


def _number(numeral: Numeral) -> Capture:
    return Capture("number", numeral)


def _folded(phrase: Phrase, captures: Captures) -> list[Captures]:
    """Numbers in a number phrase become one; other captures stay as they are."""
    if phrase.means.value == "same":
        return [captures]
    numerals = [capture.value for capture in captures if isinstance(capture.value, Numeral)]
    return [(_number(numeral),) for numeral in combine(phrase.means, numerals)]


def _once(matches: Items[Match]) -> Matches:
    return tuple(dict.fromkeys(matches))
