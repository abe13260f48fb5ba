"""Conditions in which clips are scored: clean, or noise at a ratio. Made with numpy, and unlike the training noise.

The computed tractor is brown noise with harmonics of 30 to 42 Hz and a little hiss; ``engine`` takes recorded
loops. The ratio is that of the speech's level while it is spoken to the noise's, over the whole band.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from speech.training.voices import RATE, Sound, read_sound

HARMONICS = (1, 2, 3, 4, 6, 8, 12)
BEFORE, AFTER = 0.25, 0.4
"""Seconds of quiet put around every clip."""


@dataclass(frozen=True, slots=True)
class NoiseCondition:
    """``ratio`` in dB, None for a clean clip; ``loops`` are recordings, none for the computed tractor."""

    name: str
    ratio: float | None
    loops: tuple[Path, ...] = ()

    def heard(self, sound: Sound, key: str) -> npt.NDArray[np.int16]:
        """The clip in this condition, the same for the same key, as 16-bit samples."""
        quiet = [np.zeros(int(seconds * RATE), np.float32) for seconds in (BEFORE, AFTER)]
        speech = np.concatenate([quiet[0], sound / max(float(np.abs(sound).max()), 1e-4) * 0.5, quiet[1]])
        if self.ratio is not None:
            rng = np.random.default_rng(zlib.crc32(f"{key} {self.name}".encode()))
            noise = _loop(self.loops, len(speech), rng) if self.loops else _tractor(len(speech), rng)
            speech = speech + noise * _level(speech) / 10 ** (self.ratio / 20)
            speech *= min(1.0, 0.95 / float(np.abs(speech).max()))
        return np.round(speech * 32_767).astype(np.int16)


def _level(sound: Sound) -> float:
    spoken = sound[np.abs(sound) > 0.02 * np.abs(sound).max()]
    return float(spoken.std()) if len(spoken) else 1e-3


def _tractor(samples: int, rng: np.random.Generator) -> Sound:
    brown = np.cumsum(rng.standard_normal(samples + 1_000))
    brown = (brown - np.convolve(brown, np.ones(501) / 501, "same"))[:samples]
    time = np.arange(samples) / RATE
    rate, swell = rng.uniform(30, 42), 1 + 0.15 * np.sin(2 * np.pi * rng.uniform(0.5, 2) * time)
    tones = [
        np.sin(2 * np.pi * rate * order * time + rng.uniform(0, 6)) / (at + 1) for at, order in enumerate(HARMONICS)
    ]
    engine = np.sum(tones, axis=0) * swell
    mixed = brown / brown.std() + 0.7 * engine / engine.std() + 0.15 * rng.standard_normal(samples)
    return np.asarray(mixed / mixed.std(), dtype=np.float32)


def _loop(loops: Sequence[Path], samples: int, rng: np.random.Generator) -> Sound:
    loop = read_sound(loops[int(rng.integers(len(loops)))])
    long = np.tile(loop, samples // len(loop) + 2)
    start = int(rng.integers(len(long) - samples))
    cut = long[start : start + samples]
    return np.asarray(cut / (cut.std() + 1e-9), dtype=np.float32)
