"""What of a text a voice can say, in which pieces, and how long that may take."""

from __future__ import annotations

import re

import numpy as np

from speech.audio import AudioClip

SILENCE = AudioClip(np.zeros(0, dtype=np.float32))
LONGEST_CHARACTERS = 4_000
START_S = 30.0
CHARACTER_S = 0.1
_BETWEEN = re.compile(r"(?<=[.!?])\s+(?=[¿¡\dA-ZÁÉÍÓÚÑ])|\s*\n\s*")
_UNSAID = re.compile(r"[\x00-\x1f\x7f-\x9f\ud800-\udfff\s]+")


def sayable(text: str) -> str:
    """The text on one line, as data: no control characters, no phoneme brackets, of bounded length; empty when it has
    neither a letter nor a digit."""
    line = _UNSAID.sub(" ", text.replace("[[", "[ [")).strip()[:LONGEST_CHARACTERS]
    return line if any(map(str.isalnum, line)) else ""


def sentences(text: str) -> tuple[str, ...]:
    """The sentences and lines of a text that have something to say, each with its own mark at the end."""
    return tuple(filter(None, map(sayable, _BETWEEN.split(text))))


def patience_s(words: str) -> float:
    """How long a voice may take for these words, in seconds; a slow computer that loads a voice needs some of it."""
    return START_S + CHARACTER_S * len(words)
