"""An open sound device: a microphone that is heard block by block, or a loudspeaker that plays one clip."""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any

import numpy as np
import soxr
from numpy.typing import NDArray

from bot.handsfree.sound import RATE_HZ, SAMPLE, Device, Format, Kind, Sound
from speech.audio import AudioClip

BLOCK_S = 0.1
MOST_BLOCKS = 100
LOST_S = 3.0
"""Without a block for so long the device counts as gone; some take more than a second to begin."""
GRACE_S = 4.0
"""A device that is so much later than the clip is long has stopped."""


class _DeviceStream:
    """One device of PortAudio's, which calls from a thread of its own. Raises ``sound.Failure`` where it cannot be
    used."""

    def __init__(self, sound: Sound, kind: Kind, device: Device, rate_hz: int) -> None:
        self.device, self._sound = device, sound
        self._format = sound.format(kind, device, rate_hz)
        self._stream: Any = None

    def _start(self, open_: Callable[..., Any], callback: Callable[..., None], **more: int) -> None:
        self._stream = open_(
            samplerate=self._format.rate_hz,
            device=self.device.number,
            channels=self._format.channels,
            dtype=SAMPLE,
            callback=callback,
            **more,
        )
        self._stream.start()

    def close(self) -> None:
        try:
            self._stream.abort()
            self._stream.close()
        except self._sound.Failure:
            return


class Microphone(_DeviceStream):
    """Blocks of 16-bit mono at 16 kHz, whatever the device gives, never more than a few seconds of them."""

    def __init__(self, sound: Sound, device: Device) -> None:
        super().__init__(sound, Kind.INPUT, device, RATE_HZ)
        self._waiting: deque[bytes] = deque(maxlen=MOST_BLOCKS)
        self._came = threading.Event()
        self._last = time.monotonic()
        self._converter = _converter(self._format)
        self._start(sound.module.RawInputStream, self._take, blocksize=round(BLOCK_S * self._format.rate_hz))

    def blocks(self, patience_s: float) -> list[bytes]:
        """What came since the last call; waits so long for the first block."""
        self._came.wait(patience_s)
        self._came.clear()
        return [self._converted(self._waiting.popleft()) for _ in range(len(self._waiting))]

    @property
    def is_lost(self) -> bool:
        return not self._stream.active or time.monotonic() - self._last > LOST_S

    def _take(self, data: Any, frames: int, moment: Any, status: Any) -> None:  # noqa: ARG002
        self._waiting.append(bytes(data))
        self._last = time.monotonic()
        self._came.set()

    def _converted(self, block: bytes) -> bytes:
        if self._format.channels == 1 and self._converter is None:
            return block
        samples = np.frombuffer(block, "<i2").reshape(-1, self._format.channels)[:, 0]
        if self._converter is not None:
            samples = self._converter.resample_chunk(np.ascontiguousarray(samples))
        return samples.tobytes()


def _converter(form: Format) -> Any:
    return None if form.rate_hz == RATE_HZ else soxr.ResampleStream(form.rate_hz, RATE_HZ, 1, dtype=SAMPLE)


class Playing(_DeviceStream):
    """A clip on its way out. ``is_over`` once all of it was heard, or the device failed."""

    def __init__(self, sound: Sound, device: Device, clip: AudioClip) -> None:
        super().__init__(sound, Kind.OUTPUT, device, clip.sample_rate_hz)
        self._frames = _frames(clip, self._format)
        self._at = 0
        self._deadline = time.monotonic() + clip.duration_s + GRACE_S
        self._start(sound.module.OutputStream, self._give)

    @property
    def is_over(self) -> bool:
        return not self._stream.active or self.is_stuck

    @property
    def is_stuck(self) -> bool:
        """Whether the device stopped before the end."""
        ended_early = not self._stream.active and self._at < len(self._frames)
        return ended_early or time.monotonic() > self._deadline

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
