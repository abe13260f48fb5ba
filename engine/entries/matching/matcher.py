"""Finds every way in which a pattern fits a piece of a text. Time is bounded: each rule is tried once at each place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from collections.abc import Sequence as Items
from functools import lru_cache
from typing import TypeAlias

from engine.entries.matching.numeral import Numeral, combine, written, written_fraction
from engine.entries.phrases.match import Capture, Captures, Match, Matches, once
from engine.entries.phrases.pattern import END, KeyedText, Node
from engine.entries.phrases.phrase import Meaning, Phrase, Phrases
from engine.entries.phrases.tokens import Token
from engine.entries.phrases.vocabulary import Vocabulary

Hook: TypeAlias = Callable[[int], Matches]


class Matcher:
    """Matches patterns of one vocabulary against one text. ``hooks`` are rules that depend on what is expected."""

    def __init__(self, tokens: Items[Token], vocabulary: Vocabulary) -> None:
        self.tokens = tokens
        self.text = KeyedText((*(token.key for token in tokens), END, END), self.rule)
        self.vocabulary = vocabulary
        self.hooks: dict[str, Hook] = {"written": self._written, "written_fraction": self._fraction}
        self._found: dict[tuple[str, int], Matches] = {}
        self._begins: Mapping[str, frozenset[str] | None] = {}
        self._hooked = 0

    def rule(self, name: str, start: int) -> Matches:
        """Every fit of a rule from ``start`` on."""
        key = (name, start)
        known = self._found.get(key)
        if known is None:
            known = self._found[key] = once(self._rule(name, start))
        return known

    def match(self, node: Node, start: int) -> Matches:
        """Every fit of a pattern from ``start`` on."""
        return node.fits(self.text, start)

    def _rule(self, name: str, start: int) -> list[Match]:
        if hook := self.hooks.get(name):
            return list(hook(start))
        key, begins = self.text.keys[start], self._beginnings().get(name)
        if begins is not None and key not in begins:
            return []
        if words := self.vocabulary.number_words_by_key.get(name):
            return self._words(words.at(key), start)
        phrases = self.vocabulary.rules_by_key.at(key).get(name, ())
        return [made for phrase in phrases for made in self._phrase(phrase, start)]

    def _beginnings(self) -> Mapping[str, frozenset[str] | None]:
        if self._hooked != len(self.hooks):
            self._begins, self._hooked = rule_beginnings(self.vocabulary, frozenset(self.hooks)), len(self.hooks)
        return self._begins

    def _words(self, table: Mapping[str, Phrases], start: int) -> list[Match]:
        return [
            Match(match.end, (_number(Numeral(digits)),))
            for digits, phrases in table.items()
            for phrase in phrases
            for match in self._phrase(phrase, start)
        ]

    def _phrase(self, phrase: Phrase, start: int) -> list[Match]:
        return [
            Match(match.end, captures)
            for match in phrase.fits(self.text, start)
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
    if phrase.means is Meaning.SAME:
        return [captures]
    numerals = [value for _, value in captures if isinstance(value, Numeral)]
    return [(_number(numeral),) for numeral in combine(phrase.means, numerals)]


@lru_cache(maxsize=64)
def rule_beginnings(vocabulary: Vocabulary, hooks: frozenset[str]) -> Mapping[str, frozenset[str] | None]:
    """The keys that each rule of a vocabulary may begin with, beside these hooks; None where a hook leaves that open,
    or where it may be empty."""
    tables = vocabulary.numbers.words
    said = {name: tuple(one for phrases in table.values() for one in phrases) for name, table in tables.items()}
    rules = {**vocabulary.rules, **said}
    found: dict[str, frozenset[str] | None] = dict.fromkeys(hooks)

    def keys_of(name: str) -> frozenset[str] | None:
        if name not in found:
            found[name] = None  # of a rule that begins with itself
            leads = [one.leads for one in rules.get(name, ())]
            keys = [one and _together([one.keys, *map(keys_of, one.rules)]) for one in leads]
            found[name] = _together(keys)
        return found[name]

    for name in rules:
        keys_of(name)
    return found


def _together(found: Items[frozenset[str] | None]) -> frozenset[str] | None:
    known = [keys for keys in found if keys is not None]
    return frozenset().union(*known) if len(known) == len(found) else None
