"""Confidence by agreement: several decodes of one clip vote on its words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from speech.transcript import Word


@dataclass(frozen=True, slots=True)
class Ballot:
    """The winning words with their confidences, and the texts that lost."""

    words: tuple[Word, ...]
    others: tuple[str, ...]


NOTHING = Ballot((), ())
CONFIDENCE = {1: 0.45, 2: 0.7, 3: 0.9}
TALK_FACTOR = 0.5


def count(readings: Sequence[tuple[Word, ...]], talk: bool) -> Ballot:
    """Count the votes of readings of one clip, the most trusted first; an empty reading abstains.

    The text said most often wins, the first of equals. ``talk`` says that other talk explained the clip better.
    """
    texts = [" ".join(word.text for word in reading) for reading in readings]
    tally = Counter(text for text in texts if text)
    if not tally:
        return NOTHING
    best = max(tally, key=lambda text: tally[text])
    words = readings[texts.index(best)]
    confidence = CONFIDENCE[tally[best]] * (TALK_FACTOR if talk else 1.0)
    return Ballot(
        tuple(replace(word, confidence=confidence) for word in words),
        tuple(text for text, _ in tally.most_common() if text != best),
    )
