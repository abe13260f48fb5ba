"""The door through which sound becomes words."""

from __future__ import annotations

from typing import Protocol

from speech.audio import AudioClip
from speech.transcript import Transcript


class Recognizer(Protocol):
    """Something that turns a clip into words; ``name`` stands in the transcripts it makes."""

    name: str

    def transcribe(self, clip: AudioClip, language: str, grammar: str) -> Transcript:
        """Hear ``clip`` as one of the sentences of ``grammar`` (a JSGF text, see ``speech.decoding.jsgf``).

        Nothing recognisable gives a transcript without words. Raises GrammarError for a bad grammar and
        ModelMissing for a language without a model.
        """
        ...
