"""Finite automata over words: built from pieces, made deterministic and minimal, asked what they accept.

Determinisation is the subset construction, minimisation is Moore's partition refinement (Hopcroft, Motwani and Ullman,
"Introduction to Automata Theory, Languages, and Computation", chapters 2 and 4). States of the result are numbered
breadth first over words in alphabetical order, so equal languages give equal automata.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple


class Arc(NamedTuple):
    """One arc with its share of what leaves its state; ``word`` is None for the silent arc to the end."""

    start: int
    end: int
    share: float
    word: str | None


@dataclass(frozen=True, slots=True)
class Automaton:
    """A minimal deterministic automaton; state 0 is where it starts.

    ``arcs[state]`` maps a word to the next state. Every state leads to one in ``final``, unless nothing at all is
    accepted.
    """

    arcs: tuple[Mapping[str, int], ...]
    final: frozenset[int]

    def words(self) -> frozenset[str]:
        return frozenset(word for out in self.arcs for word in out)

    def accepts(self, words: Sequence[str]) -> bool:
        state: int | None = 0
        for word in words:
            state = None if state is None else self.arcs[state].get(word)
        return state in self.final

    def shared_arcs(self) -> Iterator[Arc]:
        """All arcs, each with weight 1 / number of ways out of its state; ending counts as a way out.

        The single end state is ``len(arcs)``, reached by silent arcs.
        """
        end = len(self.arcs)
        for state, out in enumerate(self.arcs):
            share = 1 / max(len(out) + (state in self.final), 1)
            for word, following in out.items():
                yield Arc(state, following, share, word)
            if state in self.final:
                yield Arc(state, end, share, None)

    def without(self, words: Collection[str]) -> Automaton:
        """The same language less every sentence that uses one of ``words``."""
        kept = [{word: end for word, end in out.items() if word not in words} for out in self.arcs]
        return _minimal(kept, self.final)


class AutomatonBuilder:
    """An automaton under construction, with silent arcs; state 0 exists from the beginning."""

    def __init__(self) -> None:
        self.silent: list[list[int]] = [[]]
        self.spoken: list[list[tuple[str, int]]] = [[]]

    def state(self) -> int:
        self.silent.append([])
        self.spoken.append([])
        return len(self.silent) - 1

    def link(self, start: int, end: int) -> None:
        self.silent[start].append(end)

    def say(self, start: int, word: str) -> int:
        end = self.state()
        self.spoken[start].append((word, end))
        return end

    def insert(self, start: int, part: Automaton) -> int:
        """Put a copy of ``part`` after ``start``; gives the state after it."""
        copies = [self.state() for _ in part.arcs]
        end = self.state()
        self.link(start, copies[0])
        for state, out in enumerate(part.arcs):
            self.spoken[copies[state]].extend((word, copies[following]) for word, following in out.items())
            if state in part.final:
                self.link(copies[state], end)
        return end

    def automaton(self, end: int) -> Automaton:
        """The minimal automaton of everything that leads from state 0 to ``end``."""
        closures = [self._closure(state) for state in range(len(self.silent))]
        first = closures[0]
        numbers = {first: 0}
        arcs: list[dict[str, int]] = [{}]
        waiting = [first]
        while waiting:
            states = waiting.pop()
            out = arcs[numbers[states]]
            for word, ends in self._spoken_from(states).items():
                following = closures[ends[0]]
                if len(ends) > 1:
                    following = following.union(*[closures[one] for one in ends[1:]])
                number = out[word] = numbers.setdefault(following, len(numbers))
                if number == len(arcs):
                    arcs.append({})
                    waiting.append(following)
        return _minimal(arcs, {number for states, number in numbers.items() if end in states})

    def _spoken_from(self, states: frozenset[int]) -> dict[str, list[int]]:
        reached: dict[str, list[int]] = {}
        for state in states:
            for word, end in self.spoken[state]:
                reached.setdefault(word, []).append(end)
        return reached

    def _closure(self, state: int) -> frozenset[int]:
        """The state and all that silent arcs lead to from it."""
        seen = {state}
        waiting = [state]
        while waiting:
            for end in self.silent[waiting.pop()]:
                if end not in seen:
                    seen.add(end)
                    waiting.append(end)
        return frozenset(seen)


def _minimal(arcs: Sequence[Mapping[str, int]], final: Collection[int]) -> Automaton:
    """The first classes are told apart by their words and whether they may end, so that only ends are compared then."""
    alive = _leading_to(arcs, final)
    kept = [{word: end for word, end in sorted(out.items()) if end in alive} for out in arcs]
    ends = [tuple(out.values()) for out in kept]
    known: dict[object, int] = {}
    classes = [known.setdefault((state in final, *out), len(known)) for state, out in enumerate(kept)]
    count = len(known)
    while True:
        known = {}
        class_of = classes.__getitem__
        classes = [
            known.setdefault((classes[state], *map(class_of, out)), len(known)) for state, out in enumerate(ends)
        ]
        if len(known) == count:
            return _numbered(kept, classes, final)
        count = len(known)


def _leading_to(arcs: Sequence[Mapping[str, int]], final: Collection[int]) -> set[int]:
    before: list[list[int]] = [[] for _ in arcs]
    for state, out in enumerate(arcs):
        for end in out.values():
            before[end].append(state)
    alive = set(final)
    waiting = list(final)
    while waiting:
        for state in before[waiting.pop()]:
            if state not in alive:
                alive.add(state)
                waiting.append(state)
    return alive


def _numbered(kept: Sequence[Mapping[str, int]], classes: Sequence[int], final: Collection[int]) -> Automaton:
    """One state a class, breadth first from the start; ``kept`` gives any member's arcs."""
    member = {number: state for state, number in enumerate(classes)}
    order = [classes[0]]
    places = {classes[0]: 0}
    for number in order:
        for _, end in sorted(kept[member[number]].items()):
            if classes[end] not in places:
                places[classes[end]] = len(order)
                order.append(classes[end])
    return Automaton(
        arcs=tuple(
            {word: places[classes[end]] for word, end in sorted(kept[member[number]].items())} for number in order
        ),
        final=frozenset(places[number] for number in order if member[number] in final),
    )
