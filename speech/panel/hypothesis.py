"""What a decoder holds possible: whole readings of a clip, each with its score."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from speech.decoding.transducer import UNKNOWN
from speech.transcript import TranscriptWord

MOST = 24


@dataclass(frozen=True, slots=True)
class TimedWord:
    """One word with its place in the clip, in seconds."""

    text: str
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One reading, empty where none of it was for us; ``score`` is a natural logarithm, right up to a constant."""

    words: tuple[TimedWord, ...]
    score: float

    @property
    def texts(self) -> tuple[str, ...]:
        return tuple(word.text for word in self.words)


Word = TypeVar("Word", TimedWord, TranscriptWord)


def trimmed(words: Sequence[Word]) -> tuple[Word, ...]:
    """The words without unknown speech at their ends."""
    known = [at for at, word in enumerate(words) if word.text != UNKNOWN]
    return tuple(words[known[0] : known[-1] + 1]) if known else ()


def whole(parts: Sequence[Sequence[Hypothesis]]) -> list[Hypothesis]:
    """Readings of a clip that was decoded in parts, at most ``MOST``: the best of each part, and one part changed."""
    if not parts:
        return []
    best = [part[0] for part in parts]
    changed = [[*best[:at], other, *best[at + 1 :]] for at, part in enumerate(parts) for other in part[1:]]
    joined = [_joined(choice) for choice in (best, *changed)]
    return sorted(joined, key=lambda one: -one.score)[:MOST]


def _joined(parts: Iterable[Hypothesis]) -> Hypothesis:
    chosen = list(parts)
    return Hypothesis(tuple(word for part in chosen for word in part.words), sum(part.score for part in chosen))


def distinct(hypotheses: Iterable[Hypothesis], allowed: Callable[[Sequence[str]], bool]) -> list[Hypothesis]:
    """The best score of each reading that is allowed or empty, best first."""
    kept: dict[tuple[str, ...], Hypothesis] = {}
    for one in (Hypothesis(trimmed(each.words), each.score) for each in hypotheses):
        better = one.texts not in kept or kept[one.texts].score < one.score
        if better and (not one.words or allowed(one.texts)):
            kept[one.texts] = one
    return sorted(kept.values(), key=lambda one: -one.score)
