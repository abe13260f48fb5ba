"""The door through which words become sound."""

from __future__ import annotations

from typing import Protocol

from speech.audio import AudioClip


class Synthesizer(Protocol):
    """A voice of one language that reads texts out, one at a time; safe to call from several threads.

    ``name`` is the program that speaks. ``identity`` changes with whatever changes the sound: program, voice, pace.
    """

    @property
    def name(self) -> str: ...

    @property
    def identity(self) -> str: ...

    def speak(self, text: str) -> AudioClip:
        """The text said aloud, in bounded time; no sound at all where the text has nothing to say.

        Raises VoiceMissing when the program or the voice is gone, VoiceBroken when it does not speak.
        """
        ...
