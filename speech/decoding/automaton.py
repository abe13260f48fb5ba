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

    def accepted_from(self, words: Sequence[str], start: int) -> int | None:
        """The end of the longest accepted part that begins at ``start``; None where there is none."""
        state, longest = 0, None
        for at in range(start, len(words)):
            following = self.arcs[state].get(words[at])
            if following is None:
                break
            state = following
            if state in self.final:
                longest = at + 1
        return longest

    def best_part(self, words: Sequence[str]) -> slice | None:
        """The longest run of words that is accepted as it stands, the first of equals; None where there is none."""
        ends = ((start, self.accepted_from(words, start)) for start in range(len(words)))
        parts = [slice(start, end) for start, end in ends if end is not None]
        return max(parts, key=lambda part: part.stop - part.start, default=None)

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
        first = self._closure((0,))
        numbers = {first: 0}
        arcs: list[dict[str, int]] = [{}]
        waiting = [first]
        while waiting:
            states = waiting.pop()
            for word, following in self._step(states).items():
                if following not in numbers:
                    numbers[following] = len(numbers)
                    arcs.append({})
                    waiting.append(following)
                arcs[numbers[states]][word] = numbers[following]
        return _minimal(arcs, {number for states, number in numbers.items() if end in states})

    def _step(self, states: frozenset[int]) -> dict[str, frozenset[int]]:
        reached: dict[str, list[int]] = {}
        for state in states:
            for word, end in self.spoken[state]:
                reached.setdefault(word, []).append(end)
        return {word: self._closure(tuple(ends)) for word, ends in reached.items()}

    def _closure(self, states: tuple[int, ...]) -> frozenset[int]:
        seen = set(states)
        waiting = list(states)
        while waiting:
            for end in self.silent[waiting.pop()]:
                if end not in seen:
                    seen.add(end)
                    waiting.append(end)
        return frozenset(seen)


def _minimal(arcs: Sequence[Mapping[str, int]], final: Collection[int]) -> Automaton:
    alive = _leading_to(arcs, final)
    kept = [{word: end for word, end in out.items() if end in alive} for out in arcs]
    classes = [int(state in final) for state in range(len(kept))]
    count = len(set(classes))
    while True:
        signatures: dict[object, int] = {}
        classes = [
            signatures.setdefault((classes[state], frozenset((w, classes[e]) for w, e in out.items())), len(signatures))
            for state, out in enumerate(kept)
        ]
        if len(signatures) == count:
            return _numbered(kept, classes, final)
        count = len(signatures)


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
