"""Prints patterns as rules of a JSGF text (JSpeech Grammar Format, W3C Note of 5 June 2000): what may be said aloud.

What is only typed, and what is understood but not expected to be heard, drops out on the way.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TypeAlias, assert_never

from engine.entries.phrases.pattern import NOTHING, Choice, Node, Repeat, Rule, Sequence, Word
from engine.entries.phrases.phrase import Meaning, Phrase
from engine.entries.phrases.vocabulary import Vocabulary

_SPEAKABLE = re.compile(r"[^\W\d_]+(?:'[^\W\d_]+)*")
_DOUBTFUL = frozenset({Meaning.UNSAID, Meaning.UNSAID_LAST})

Names: TypeAlias = dict[str, str | None]
"""The rule that stands for another one; None where nothing does."""


def public_rule(name: str, sayings: Iterable[str]) -> str:
    """One more rule that a whole utterance may be, for the phrases of a channel, to stand behind a grammar text."""
    return f"public <{name}> = {' | '.join(sayings)};\n"


@dataclass(frozen=True)
class Printed:
    """The text of a pattern and the rules that it names; false where it says nothing."""

    text: str
    rules: frozenset[str] = frozenset()

    def __bool__(self) -> bool:
        return bool(self.text)

    def within(self, opening: str, closing: str) -> Printed:
        return Printed(f"{opening}{self.text}{closing}", self.rules)


def _joined(mark: str, parts: Iterable[Printed]) -> Printed:
    found = tuple(parts)
    return Printed(mark.join(part.text for part in found), frozenset().union(*(part.rules for part in found)))


def _any_of(options: Iterable[Printed]) -> Printed:
    return _joined(" | ", dict.fromkeys(options))


@dataclass
class GrammarText:
    """The rules of one grammar text, each written once. ``names`` says which rule stands for another."""

    vocabulary: Vocabulary
    bodies: dict[str, Printed | None] = field(default_factory=dict)
    names: dict[str, str | None] = field(default_factory=dict)

    def define(self, name: str, phrases: Iterable[Phrase | Node], names: Names | None = None) -> bool:
        """Write a rule of these alternatives; False where none of them can be said."""
        before = self.names
        self.names = before | (names or {})
        said = (one for one in phrases if not isinstance(one, Phrase) or (one.heard and one.means not in _DOUBTFUL))
        nodes = [one.node if isinstance(one, Phrase) else one for one in said]
        texts = [text for text in map(self._text, nodes) if text]
        self.names = before
        self.bodies[name] = _any_of(texts) if texts else None
        return bool(texts)

    def print(self, public: str) -> str:
        """The whole text; ``public`` is the name of the rule that is an utterance."""
        used = self._reached(public)
        bodies = {name: body.text if body else None for name, body in self.bodies.items() if name in used}
        first = f"public <{public}> = {bodies.pop(public)};"
        lines = [f"<{name}> = {text};" for name, text in bodies.items()]
        return "\n".join(["#JSGF V1.0;", "grammar rowhand;", first, *lines, ""])

    def _reached(self, name: str) -> set[str]:
        """The rules that one rule is made of, itself among them."""
        reached: set[str] = set()
        waiting = [name]
        while waiting:
            rule = waiting.pop()
            if rule not in reached:
                reached.add(rule)
                body = self.bodies[rule]
                waiting.extend(body.rules if body else ())
        return reached

    def _text(self, node: Node) -> Printed | None:
        """The text of a pattern; empty for nothing, None where it cannot be said."""
        match node:
            case Word(text):
                return Printed(text.lower()) if _SPEAKABLE.fullmatch(text) else None
            case Rule(name):
                return self._reference(name)
            case Sequence(parts):
                spoken = [self._text(part) for part in parts]
                return None if None in spoken else _joined(" ", filter(None, spoken))
            case Choice(options):
                return self._choice(options)
            case Repeat(part):
                once = self._text(part)
                return once.within("(", ")+") if once else None
            case _:
                assert_never(node)

    def _choice(self, options: tuple[Node, ...]) -> Printed | None:
        texts = [text for option in options if option != NOTHING and (text := self._text(option))]
        if not texts:
            return Printed("") if NOTHING in options else None
        return _any_of(texts).within(*("[]" if NOTHING in options else "()"))

    def _reference(self, name: str) -> Printed | None:
        used = self.names.get(name, name)
        if used is None:
            return None
        if used not in self.bodies:
            self._define_known(used)
        return Printed(f"<{used}>", frozenset({used})) if self.bodies[used] else None

    def _define_known(self, name: str) -> None:
        self.bodies[name] = None
        if table := self.vocabulary.numbers.words.get(name):
            self.define(name, [phrase for phrases in table.values() for phrase in phrases])
        elif name in self.vocabulary.rules:
            self.define(name, self.vocabulary.rules[name])
