"""A grammar text as an automaton: what may be said, and whether something heard could have been said."""

from __future__ import annotations

from functools import lru_cache
from typing import assert_never

from speech.decoding import jsgf
from speech.decoding.automaton import Automaton, AutomatonBuilder
from speech.errors import GrammarError


@lru_cache(maxsize=64)
def automaton(text: str) -> Automaton:
    """The minimal automaton of a JSGF text (the subset in ``speech.decoding.jsgf``); raises GrammarError.

    The language is all that any public rule matches. Remembered for the texts used last.
    """
    builder = _Builder(jsgf.read(text))
    whole = builder.built(jsgf.JsgfChoice(tuple(jsgf.Reference(name) for name in builder.rules.public)))
    if not whole.final:
        raise GrammarError("rules", "nothing can be said")
    return whole


class _Builder:
    """Builds each rule once, minimal, and copies it wherever it is named."""

    def __init__(self, rules: jsgf.JsgfRules) -> None:
        self.rules = rules
        self.done: dict[str, Automaton] = {}
        self.open: list[str] = []

    def built(self, body: jsgf.Expansion) -> Automaton:
        net = AutomatonBuilder()
        return net.automaton(self._add(net, 0, body))

    def _rule(self, name: str) -> Automaton:
        if name not in self.rules.bodies:
            raise GrammarError(f"<{name}>", "named and not defined")
        if name in self.open:
            raise GrammarError(f"<{name}>", "contains itself")
        if name not in self.done:
            self.open.append(name)
            self.done[name] = self.built(self.rules.bodies[name])
            self.open.pop()
        return self.done[name]

    def _add(self, net: AutomatonBuilder, start: int, body: jsgf.Expansion) -> int:
        """Put ``body`` after ``start``; gives the state after it."""
        match body:
            case jsgf.JsgfToken(text):
                return net.say(start, text)
            case jsgf.Reference(rule):
                return net.insert(start, self._rule(rule))
            case jsgf.JsgfSequence(parts):
                for part in parts:
                    start = self._add(net, start, part)
                return start
            case jsgf.JsgfChoice(options):
                return self._add_choice(net, start, options)
            case jsgf.JsgfRepeat(part, least):
                return self._add_repeat(net, start, part, least)
            case other:
                assert_never(other)

    def _add_choice(self, net: AutomatonBuilder, start: int, options: tuple[jsgf.Expansion, ...]) -> int:
        end = net.state()
        for option in options:
            net.link(self._add(net, start, option), end)
        return end

    def _add_repeat(self, net: AutomatonBuilder, start: int, part: jsgf.Expansion, least: int) -> int:
        """Both states are its own: the part may end in a state of another repeat, which must not be entered anew."""
        begin, end = net.state(), net.state()
        net.link(start, begin)
        net.link(self._add(net, begin, part), end)
        net.link(end, begin)
        if least == 0:
            net.link(begin, end)
        return end
