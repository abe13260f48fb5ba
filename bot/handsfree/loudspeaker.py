"""The loudspeaker: one clip at a time, played from a thread of PortAudio's, given up where the device stops."""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import soxr
from numpy.typing import NDArray

from bot.handsfree.sound import Device, Format, Kind, Sound
from speech.audio import AudioClip

GRACE_S = 4.0
"""A device that is so much later than the clip is long has stopped."""


class Playing:
    """A clip on its way out. ``is_over`` once all of it was heard, or the device failed."""

    def __init__(self, sound: Sound, device: Device, clip: AudioClip) -> None:
        """Raises ``sound.Failure`` where the device cannot be used."""
        self._sound = sound
        self._format = sound.format(Kind.OUTPUT, device, clip.sample_rate_hz, "int16")
        self._frames = _frames(clip, self._format)
        self._at = 0
        self._deadline = time.monotonic() + clip.duration_s + GRACE_S
        self._stream = self._opened()

    @property
    def is_over(self) -> bool:
        return not self._stream.active or self.is_stuck

    @property
    def is_stuck(self) -> bool:
        """Whether the device stopped before the end."""
        ended_early = not self._stream.active and self._at < len(self._frames)
        return ended_early or time.monotonic() > self._deadline

    def close(self) -> None:
        try:
            self._stream.abort()
            self._stream.close()
        except self._sound.Failure:
            return

    def _opened(self) -> Any:
        stream = self._sound.module.OutputStream(
            samplerate=self._format.rate_hz,
            device=self._format.device.number,
            channels=self._format.channels,
            dtype="int16",
            callback=self._give,
        )
        stream.start()
        return stream

    def _give(self, out: NDArray[np.int16], frames: int, moment: Any, status: Any) -> None:  # noqa: ARG002
        piece = self._frames[self._at : self._at + frames]
        out[: len(piece)] = piece
        out[len(piece) :] = 0
        self._at += len(piece)
        if len(piece) < frames:
            raise self._sound.module.CallbackStop


def _frames(clip: AudioClip, form: Format) -> NDArray[np.int16]:
    samples = clip.samples
    if form.rate_hz != clip.sample_rate_hz:
        samples = np.asarray(soxr.resample(samples, clip.sample_rate_hz, form.rate_hz), dtype=np.float32)
    mono = (np.clip(samples, -1, 1) * 32767).astype(np.int16)
    return np.repeat(mono[:, np.newaxis], form.channels, axis=1)
