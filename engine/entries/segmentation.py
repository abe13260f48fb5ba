"""The cheapest ways to take a whole text apart into pieces, and what they mean together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby, islice, pairwise
from typing import TypeAlias

from engine.entries.matching.piece import IMPOSSIBLE, Piece
from engine.entries.phrases.tokens import has_digit
from engine.entries.sentence import Sentence
from engine.messages import Correcting, DoubtReason, Either, Entry, Given, Reported, Unclear, UnclearReason

State: TypeAlias = tuple[int, bool]
"""A place between tokens, and whether a value that names no row may stand there."""

MOST_READINGS = 16
Reading: TypeAlias = tuple[Entry, ...]


@dataclass
class _Step:
    cost: int
    pieces: list[tuple[State, Piece]] = field(default_factory=list)


class Segmentation:
    """Cheapest covers of a sentence. ``reached`` is how far any of them gets, in tokens."""

    def __init__(self, sentence: Sentence, length: int) -> None:
        self.length = length
        self.asking = sentence.expectation.asking
        self.steps: dict[State, _Step] = {(0, True): _Step(0)}
        self.reached = 0
        for place in range(length):
            self._extend(sentence, place)

    def _extend(self, sentence: Sentence, place: int) -> None:
        states = [state for state in ((place, True), (place, False)) if state in self.steps]
        if not states:
            return
        self.reached = place
        for piece in sentence.pieces(place):
            for state in states:
                if state[1] or not piece.bare:
                    self._step(state, piece)
                elif sentence.hearing.tokens[place - 1].is_break:
                    self._step(state, _second(piece))

    def _step(self, state: State, piece: Piece) -> None:
        after = (piece.end, piece.frees or (not piece.entries and state[1]))
        cost = self.steps[state].cost + piece.cost
        known = self.steps.get(after)
        if known is None or cost < known.cost:
            known = self.steps[after] = _Step(cost)
        if cost == known.cost:
            known.pieces.append((state, piece))

    @property
    def is_whole(self) -> bool:
        return any(state in self.steps for state in self._ends)

    @property
    def _ends(self) -> tuple[State, State]:
        return (self.length, True), (self.length, False)

    def segments(self) -> Iterator[list[Reading]]:
        """The text in parts that do not depend on each other, each with all its cheapest readings."""
        cuts = [0, *self._cuts(), self.length]
        for start, end in pairwise(cuts):
            paths = (path for state in ((end, True), (end, False)) for path in self._paths(state, start))
            readings = dict.fromkeys(islice(paths, MOST_READINGS))
            yield [reading for reading in readings if reading]

    def _cheapest_ends(self) -> list[State]:
        ends = [state for state in self._ends if state in self.steps]
        least = min(self.steps[state].cost for state in ends)
        return [state for state in ends if self.steps[state].cost == least]

    def _used(self) -> set[State]:
        """The states on any cheapest cover."""
        used: set[State] = set()
        waiting = self._cheapest_ends()
        while waiting:
            state = waiting.pop()
            if state not in used:
                used.add(state)
                waiting.extend(before for before, _ in self.steps[state].pieces)
        return used

    def _cuts(self) -> list[int]:
        """The places inside the text that every cheapest cover passes."""
        self.used = self._used()
        crossed: set[int] = set()
        for state in self.used:
            for before, _ in self.steps[state].pieces:
                crossed.update(range(before[0] + 1, state[0]))
        return [place for place in range(1, self.length) if place not in crossed]

    def _paths(self, state: State, start: int) -> Iterator[Reading]:
        if state not in self.used:
            return
        if state[0] == start:
            yield ()
            return
        for before, piece in self.steps[state].pieces:
            for path in self._paths(before, start):
                yield path + piece.entries


def _second(piece: Piece) -> Piece:
    """A second value that names no row: nobody can tell which row it is for."""
    entry = piece.entries[0]
    if not isinstance(entry, Given):
        return piece
    reason = UnclearReason.WHICH_ROW if entry.row is not None else UnclearReason.UNKNOWN_WORDS
    unclear = Unclear(reason=reason, said=entry.said, slot=entry.slot)
    return replace(piece, entries=(unclear,), cost=IMPOSSIBLE)


def settle(readings: list[Reading]) -> Reading:
    """One meaning of a part: itself, a doubtful value with its rivals, or a choice for the operator."""
    distinct = list({tuple(map(_meaning, reading)): reading for reading in reversed(readings)}.values())[::-1]
    if len(distinct) <= 1:
        return tuple(_undoubted(entry) for entry in distinct[0]) if distinct else ()
    told = [entry for reading in distinct for entry in reading if isinstance(entry, Reported)]
    if told:
        return (Unclear(reason=UnclearReason.WHICH_ROW, said=told[0].said),)
    careful = [reading for reading in distinct if any(not isinstance(entry, Given) for entry in reading)]
    if careful:
        return min(careful, key=_carefulness)
    doubtful = [entry for reading in distinct for entry in reading if isinstance(entry, Given) and entry.doubt]
    if len(doubtful) == sum(map(len, distinct)) and len({(entry.slot, entry.row) for entry in doubtful}) == 1:
        return (doubtful[0].model_copy(update={"rivals": tuple(other.value for other in doubtful[1:])}),)
    givens = tuple(tuple(entry for entry in reading if isinstance(entry, Given)) for reading in distinct)
    return (Either(readings=givens),)


def _undoubted(entry: Entry) -> Entry:
    """A written 1,750 that cannot be 1.75 here is no longer in doubt; words without a decimal word always are."""
    if not isinstance(entry, Given) or entry.doubt is not DoubtReason.DECIMAL_UNSAID:
        return entry
    is_written = has_digit(entry.said)
    return entry.model_copy(update={"doubt": None}) if is_written else entry


def _meaning(entry: Entry) -> tuple[object, ...]:
    if isinstance(entry, Given):
        return entry.slot, entry.row, entry.value
    if isinstance(entry, Reported):
        return (entry.model_copy(update={"said": ""}),)
    return (entry,)


_UNCLEAR_FIRST = (
    UnclearReason.NO_VALUE,
    UnclearReason.OUT_OF_RANGE,
    UnclearReason.WRONG_UNIT,
    UnclearReason.NO_SUCH_SETTING,
    UnclearReason.WHICH_ROW,
    UnclearReason.NO_SUCH_ROW,
)


def _carefulness(reading: Reading) -> tuple[int, int]:
    """Asking again comes before any value that the same words might give; the likeliest reason comes first."""
    reasons = [entry.reason for entry in reading if isinstance(entry, Unclear)]
    rank = min((_UNCLEAR_FIRST.index(reason) for reason in reasons if reason in _UNCLEAR_FIRST), default=9)
    longest = max((-(entry.row or 0) for entry in reading if isinstance(entry, Unclear | Correcting)), default=0)
    return rank, longest


def with_exceptions(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """The entries without those values that another one of this utterance, for fewer rows, takes the row out of."""
    groups = [list(group) for _, group in groupby(entries, key=_together)]
    sizes = [(entry, len(group)) for group in groups for entry in group]
    return tuple(entry for entry, size in sizes if not any(_excepts(other, few, entry, size) for other, few in sizes))


def _together(entry: Entry) -> object:
    """Alike for values that one phrase gives to several rows."""
    if not isinstance(entry, Given) or entry.row is None:
        return id(entry)
    return entry.slot, entry.said, str(entry.value), entry.correcting


def _excepts(other: Entry, few: int, entry: Entry, size: int) -> bool:
    """A row that is named alone, its value still to be said, is excepted as well."""
    if not isinstance(other, Given | Unclear) or not isinstance(entry, Given) or entry.row is None:
        return False
    return few < size and (other.slot, other.row) == (entry.slot, entry.row)
