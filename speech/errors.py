"""What can go wrong between sound and words, as one tree.

::

    SpeechError
    ├── AudioError       a recording cannot be used: ``reason`` is empty, cut, too_long, not_audio or unreadable
    ├── GrammarError     a grammar text is not in the subset of JSGF that is read here
    ├── ModelMissing     no recogniser has a model for this language
    ├── ModelBroken      a model folder is there and cannot be loaded
    ├── ModelRefused     what was given is no model that can be taken
    ├── FetchFailed      a download stopped; what was fetched is kept
    ├── ShelfFailed      the folder of models cannot be read or written
    ├── VoiceMissing     no voice, or no program to speak with it, for this language
    └── VoiceBroken      a voice that is there does not speak

Every message is one sentence for the person who can act on it; the data stays on the exception.
``engine.errors`` is the same idea for meaning, apart because the two rooms do not know each other.
"""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path


class SpeechError(Exception):
    """Root of every error that speech raises on purpose."""


class AudioFault(StrEnum):
    """Why a recording cannot be used."""

    EMPTY = "empty"
    CUT = "cut"
    TOO_LONG = "too_long"
    NOT_AUDIO = "not_audio"
    UNREADABLE = "unreadable"


class AudioError(SpeechError):
    """A recording cannot be used; ``reason`` says why, the message says what to do."""

    def __init__(self, reason: AudioFault, sentence: str) -> None:
        self.reason = reason
        super().__init__(sentence)


class GrammarError(SpeechError):
    """A grammar text is wrong at ``place``."""

    def __init__(self, place: str, wrong: str) -> None:
        self.place = place
        self.wrong = wrong
        super().__init__(f"grammar: {place}: {wrong}")


class ModelMissing(SpeechError):
    """No model for this language; ``engine`` is the recogniser that was wanted, or auto."""

    def __init__(self, language: str, engine: str, advice: str) -> None:
        self.language = language
        self.engine = engine
        super().__init__(f"no speech model for {language!r} with {engine}: {advice}")


class ModelBroken(SpeechError):
    """A model folder that cannot be loaded."""

    def __init__(self, path: Path, why: str) -> None:
        self.path = path
        self.why = why
        super().__init__(f"the speech model in {path} cannot be loaded: {why}")


class ModelRefused(SpeechError):
    """``source`` (a folder, a zip file or an address) gives no model that can be taken; nothing was changed."""

    def __init__(self, source: str, why: str) -> None:
        self.source = source
        self.why = why
        super().__init__(f"{source}: {why}")


class FetchFailed(SpeechError):
    """A download stopped before its end; ``kept`` bytes of it are on the disk for the next try."""

    def __init__(self, why: str, kept: int) -> None:
        self.why = why
        self.kept = kept
        rest = f"what was fetched is kept ({kept / 1e6:.1f} MB)" if kept else "nothing was fetched yet"
        super().__init__(f"{why}: {rest}; run it again")


class ShelfFailed(SpeechError):
    """The folder of models cannot be read or written."""

    def __init__(self, folder: Path, why: str) -> None:
        self.folder = folder
        super().__init__(f"the folder of speech models {folder} cannot be used: {why}")


class VoiceMissing(SpeechError):
    """No voice for this language; ``voice`` is the kind that was wanted, or auto."""

    def __init__(self, language: str, voice: str, advice: str) -> None:
        self.language = language
        self.voice = voice
        super().__init__(f"no voice for {language!r} with {voice}: {advice}")


class VoiceBroken(SpeechError):
    """A voice that is there and, started anew once, still did not speak."""

    def __init__(self, voice: str, why: str) -> None:
        self.voice = voice
        self.why = why
        super().__init__(f"the voice {voice} does not speak: {why}")
