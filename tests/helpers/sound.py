"""Sound without anything in it."""

from __future__ import annotations

import numpy as np

from speech.audio import SAMPLE_RATE_HZ, AudioClip


def quiet(seconds: float = 1.0) -> AudioClip:
    return AudioClip(np.zeros(int(seconds * SAMPLE_RATE_HZ), np.float32))
