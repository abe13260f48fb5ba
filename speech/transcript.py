"""What a recogniser heard: words in order, each with a confidence and a place in time."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class SoundTrouble(StrEnum):
    """What is wrong with the sound itself, worst first."""

    SILENCE = "silence"
    CLIPPED = "clipped"
    TOO_NOISY = "too_noisy"


@dataclass(frozen=True, slots=True)
class TranscriptWord:
    """One word; ``confidence`` is 0 to 1, times are seconds from the start of the clip."""

    text: str
    confidence: float
    start_s: float
    end_s: float


@dataclass(frozen=True, slots=True)
class Transcript:
    """The words of one clip, best reading first.

    ``alternatives`` are other texts the recogniser thought of, likeliest first, never the text itself.
    ``seconds`` is how long the recogniser worked. ``trouble`` is set when the sound is poor, words or no words.
    ``talk`` is how sure it is, 0 to 1, that nothing of it was for us; 0 where a recogniser does not weigh that.
    """

    words: tuple[TranscriptWord, ...]
    alternatives: tuple[str, ...]
    engine: str
    seconds: float
    trouble: SoundTrouble | None = None
    talk: float = 0.0

    @property
    def text(self) -> str:
        return " ".join(word.text for word in self.words)

    @property
    def confidence(self) -> float:
        """Confidence of the least certain word; 0 when nothing was heard."""
        return min((word.confidence for word in self.words), default=0.0)
