"""A third opinion on what the panel heard: when it is asked, and how much it counts; see ``arbiter.yaml``.

The panel's best reading stands; a general recogniser that learnt from other speech says how likely it holds it and the
readings next to it, beside what it would read itself. From both follows how sure the reading is. What cannot be said in
time counts for nothing, and the panel is as sure as it is alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Protocol

import yaml

from speech.audio import AudioClip
from speech.transcript import TranscriptWord

FILE = Path(__file__).with_name("arbiter.yaml")
WIDEST, DEEPEST, A_STEP = 15.0, 20.0, 5.0
"""Natural logarithms: between two readings and under the free one at most; both count in steps."""
MOST_WORDS, WORDS_A_STEP = 8, 4
LEAST = 0.002
"""No confidence counts as less, or as more than one less this."""
CERTAIN = 0.999999
WEIGHTS = ("constant", "panel", "agrees", "margin", "under", "words")
"""The fields of a ``Consultation`` that weigh, in the order of ``features``."""


@dataclass(frozen=True, slots=True)
class Consultation:
    """When to ask, and what to make of the answer.

    ``sure``: from this confidence of the least certain word on, a reading without a number is not asked for.
    ``readings``: how many are proposed. ``batch``: ways of writing scored at once. ``deadline_s``: seconds for it all.
    The other numbers weigh the logarithm of the odds that the reading is right: ``constant`` as it is, ``panel`` the
    panel's own such logarithm, ``agrees`` where no other reading is held likelier, ``margin`` how much likelier it is
    than the next, ``under`` how far it lies under the free reading, ``words`` how long it is.
    """

    sure: float
    readings: int
    batch: int
    deadline_s: float
    constant: float
    panel: float
    agrees: float
    margin: float
    under: float
    words: float

    def weights(self) -> tuple[float, ...]:
        return tuple(getattr(self, name) for name in WEIGHTS)


@dataclass(frozen=True, slots=True)
class Scores:
    """Natural logarithms of probabilities: of each text given, in all ways of writing it, and of the free reading."""

    texts: tuple[float, ...]
    free: float


class OutOfTime(Exception):
    """The time was over before everything was scored."""


class Scorer(Protocol):
    """Whoever can say how likely given texts are. Raises OutOfTime where it takes longer than ``within_s``."""

    def scores(self, clip: AudioClip, texts: Sequence[str], within_s: float) -> Scores: ...


@cache
def load_limits(file: Path = FILE) -> Consultation:
    """The limits of a file; TypeError where it does not hold just these."""
    return Consultation(**yaml.safe_load(file.read_text(encoding="utf-8")))


class Arbiter:
    """The third opinion with its limits. ``has_number`` says whether a number is among the words of a reading."""

    def __init__(
        self, scorer: Scorer, has_number: Callable[[Sequence[str]], bool], limits: Consultation | None = None
    ) -> None:
        self.scorer = scorer
        self.has_number = has_number
        self.limits = limits or load_limits()

    def judged(
        self, words: Sequence[TranscriptWord], count: int, others: Sequence[str], clip: AudioClip
    ) -> tuple[TranscriptWord, ...]:
        """The words of the panel's best reading as sure as both hold them; as they were where there is no answer.

        ``count`` of the words say something. ``others`` are the readings next to it, likeliest first.
        """
        if not self.matters(words):
            return tuple(words)
        try:
            scores = self.scores(words, others, clip, self.limits.deadline_s)
        except OutOfTime:
            return tuple(words)
        return raised(words, certainty(_least(words), count, scores, self.limits))

    def matters(self, words: Sequence[TranscriptWord]) -> bool:
        """Whether it can change what follows: the panel is not sure, or a number may be kept."""
        return self.has_number([word.text for word in words]) or _least(words) < self.limits.sure

    def scores(
        self, words: Sequence[TranscriptWord], others: Sequence[str], clip: AudioClip, within_s: float
    ) -> Scores:
        """The scores of the best reading and of those next to it. Raises OutOfTime."""
        texts = [" ".join(word.text for word in words), *others[: self.limits.readings - 1]]
        return self.scorer.scores(clip, texts, within_s)


def certainty(alone: float, count: int, scores: Scores, limits: Consultation) -> float:
    """How sure a reading of ``count`` words is, where the panel ``alone`` is so sure; it is the first of the texts."""
    told = features(alone, count, scores)
    return 1 / (1 + math.exp(-sum(weight * one for weight, one in zip(limits.weights(), told, strict=True))))


def features(alone: float, count: int, scores: Scores) -> tuple[float, ...]:
    """What the weights of a ``Consultation`` are multiplied with, in their order."""
    reading, *others = scores.texts
    lead = max(min(reading - max(others, default=-math.inf), WIDEST), -WIDEST)
    depth = max(min(scores.free - reading, DEEPEST), 0.0)
    long = min(count, MOST_WORDS) / WORDS_A_STEP
    return 1.0, _logit(alone), float(lead >= 0), lead / A_STEP, depth / A_STEP, long


def raised(words: Sequence[TranscriptWord], sure: float) -> tuple[TranscriptWord, ...]:
    """The words with the least certain one as ``sure``, and the others raised to the same power; none beyond 1."""
    least = min(max(_least(words), LEAST), CERTAIN)
    power = math.log(min(sure, CERTAIN)) / math.log(least)
    return tuple(replace(one, confidence=min(max(one.confidence, LEAST), CERTAIN) ** power) for one in words)


def _least(words: Sequence[TranscriptWord]) -> float:
    return min(word.confidence for word in words)


def _logit(share: float) -> float:
    inside = min(max(share, LEAST), 1 - LEAST)
    return math.log(inside / (1 - inside))
