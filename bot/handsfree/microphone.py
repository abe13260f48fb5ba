"""The microphone: blocks of 16-bit mono at 16 kHz, whatever the device gives, never more than a few seconds of them."""

from __future__ import annotations

import threading
import time
from collections import deque
from typing import Any

import numpy as np
import soxr

from bot.handsfree.sound import RATE_HZ, Device, Format, Kind, Sound

BLOCK_S = 0.1
MOST_BLOCKS = 100
LOST_S = 3.0
"""Without a block for so long the device counts as gone; some take more than a second to begin."""


class Microphone:
    """One open input. The device fills it from a thread of its own; ``blocks`` empties it."""

    def __init__(self, sound: Sound, device: Device) -> None:
        """Raises ``sound.Failure`` where the device cannot be used."""
        self.device = device
        self._sound = sound
        self._format = sound.format(Kind.INPUT, device, RATE_HZ, "int16")
        self._waiting: deque[bytes] = deque(maxlen=MOST_BLOCKS)
        self._came = threading.Event()
        self._last = time.monotonic()
        self._converter = _converter(self._format)
        self._stream = self._opened()

    def blocks(self, patience_s: float) -> list[bytes]:
        """What came since the last call; waits so long for the first block."""
        self._came.wait(patience_s)
        self._came.clear()
        return [self._converted(self._waiting.popleft()) for _ in range(len(self._waiting))]

    @property
    def is_lost(self) -> bool:
        return not self._stream.active or time.monotonic() - self._last > LOST_S

    def close(self) -> None:
        try:
            self._stream.abort()
            self._stream.close()
        except self._sound.Failure:
            return

    def _opened(self) -> Any:
        stream = self._sound.module.RawInputStream(
            samplerate=self._format.rate_hz,
            blocksize=round(BLOCK_S * self._format.rate_hz),
            device=self.device.number,
            channels=self._format.channels,
            dtype="int16",
            callback=self._take,
        )
        stream.start()
        return stream

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
    return None if form.rate_hz == RATE_HZ else soxr.ResampleStream(form.rate_hz, RATE_HZ, 1, dtype="int16")
