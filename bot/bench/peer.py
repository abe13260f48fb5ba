"""A general recogniser beside ours, for comparison: any Whisper model in CTranslate2's form, where faster-whisper is
installed. It knows no grammar and writes numbers in digits; they are put into words, each number in its shortest way.
"""

from __future__ import annotations

import importlib
import math
import re
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from engine.entries.matching.numerals import LARGEST_SPELLED, spell
from engine.errors import InputError
from speech.audio import AudioClip
from speech.transcript import Transcript, TranscriptWord

NAME = "whisper"
_TOKEN = re.compile(r"\d+(?:\.\d+)?|[a-z']+")


class Whisper:
    """A model from a folder; raises InputError where it, or the program, is not there."""

    name = NAME

    def __init__(self, folder: Path) -> None:
        try:
            program = importlib.import_module("faster_whisper")
            self.model: Any = program.WhisperModel(str(folder), device="cpu", compute_type="int8", cpu_threads=1)
        except (ImportError, RuntimeError, ValueError, OSError) as error:
            raise InputError(f"no Whisper model can be loaded from {folder}: {error}") from error

    def transcribe(self, clip: AudioClip, language: str, grammar: str) -> Transcript:  # noqa: ARG002
        """Hear a clip; the grammar is of no use to it. See ``Recognizer.transcribe``."""
        started = time.perf_counter()
        parts, _ = self.model.transcribe(clip.samples, language=language, beam_size=5)
        words = tuple(word for part in parts for word in _words(part))
        return Transcript(words, (), NAME, time.perf_counter() - started)


def _words(part: Any) -> Iterator[TranscriptWord]:
    sure = min(math.exp(part.avg_logprob), 1.0)
    for text in said(part.text).split():
        yield TranscriptWord(text, sure, part.start, part.end)


def said(text: str) -> str:
    """What was written, in plain words: "Row 3, 49.5." is "row three forty nine point five"."""
    return " ".join(_spoken(token) for token in _TOKEN.findall(text.lower().replace(",", " ")))


def _spoken(token: str) -> str:
    if not token[0].isdigit():
        return token
    if (len(token) > 3 and "." not in token) or float(token) > LARGEST_SPELLED:
        return " ".join(spell(int(digit), "en") for digit in token if digit.isdigit())
    return spell(float(token), "en")
