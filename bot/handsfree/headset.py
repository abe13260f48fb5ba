"""Microphone and loudspeaker together: opened, watched, and looked for again when they are gone.

PortAudio sees what is plugged in only when it starts anew, and for that every stream must be closed: so both are kept
here, and only one thread calls in.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from enum import Enum, auto

from bot.handsfree.sound import Kind, Sound
from bot.handsfree.stream import Microphone, Playing
from speech.audio import AudioClip

FIRST_S, GROWTH, LONGEST_S = 0.5, 1.5, 10.0


class Change(Enum):
    """What happened to the microphone."""

    LOST = auto()
    BACK = auto()


class Headset:
    """The devices in use. ``wanted`` names those a person chose; while one of them is gone the default stands in."""

    def __init__(self, sound: Sound, wanted: Mapping[Kind, str | None]) -> None:
        self._sound, self._wanted = sound, wanted
        self._playing: Playing | None = None
        self._failures, self._next_try, self._is_deaf = 0, 0.0, False
        self.microphone = self._opened()

    def watch(self, now: float) -> Change | None:
        """Look whether the microphone is still there, and for another one while it is not, ever less often."""
        if self.microphone is not None and self.microphone.is_lost:
            self.microphone.close()
            self.microphone = None
        if (self.microphone is None) != self._is_deaf:
            self._is_deaf = self.microphone is None
            self._failures, self._next_try = 0, now + FIRST_S
            return Change.LOST if self._is_deaf else Change.BACK
        if self.microphone is not None or now < self._next_try or self._playing is not None:
            return None
        self._sound.refresh()
        self.microphone = self._opened()
        self._failures += 1
        self._next_try = now + min(FIRST_S * GROWTH**self._failures, LONGEST_S)
        return None

    def blocks(self, patience_s: float) -> list[bytes]:
        """What the microphone heard since the last call, after waiting so long for it."""
        if self.microphone is None:
            time.sleep(patience_s)
            return []
        return self.microphone.blocks(patience_s)

    def play(self, clip: AudioClip) -> bool:
        """Begin to play; False where no loudspeaker takes it, even after looking for another one."""
        self.hush()
        self._playing = self._started(clip)
        if self._playing is None:
            self._renew()
            self._playing = self._started(clip)
        return self._playing is not None

    @property
    def is_playing(self) -> bool:
        return self._playing is not None and not self._playing.is_over

    def hush(self) -> bool:
        """End what is played; False where the loudspeaker had failed on the way."""
        playing, self._playing = self._playing, None
        if playing is None:
            return True
        whole = not playing.is_stuck
        playing.close()
        return whole

    def close(self) -> None:
        self.hush()
        if self.microphone is not None:
            self.microphone.close()
            self.microphone = None

    def _renew(self) -> None:
        had = self.microphone is not None
        self.close()
        self._sound.refresh()
        self.microphone = self._opened() if had else None

    def _opened(self) -> Microphone | None:
        device = self._sound.found(Kind.INPUT, self._wanted[Kind.INPUT])
        try:
            return Microphone(self._sound, device) if device else None
        except (self._sound.Failure, ValueError):
            return None

    def _started(self, clip: AudioClip) -> Playing | None:
        device = self._sound.found(Kind.OUTPUT, self._wanted[Kind.OUTPUT])
        try:
            return Playing(self._sound, device, clip) if device else None
        except (self._sound.Failure, ValueError):
            return None
