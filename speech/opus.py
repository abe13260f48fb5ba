"""Clips become voice notes: Ogg with Opus inside, as chats play them."""

from __future__ import annotations

import io

import numpy as np
import soundfile
import soxr

from speech.audio import RESAMPLING, AudioClip
from speech.errors import AudioError, AudioFault

OPUS_RATE_HZ = 48_000


def encode_opus(clip: AudioClip) -> bytes:
    """One channel at 48 kHz, the rate that every Opus decoder knows. Raises AudioError (empty) without samples."""
    if not len(clip.samples):
        raise AudioError(AudioFault.EMPTY, "there is no sound to make a voice note of")
    samples = soxr.resample(np.clip(clip.samples, -1, 1), clip.sample_rate_hz, OPUS_RATE_HZ, quality=RESAMPLING)
    note = io.BytesIO()
    soundfile.write(note, samples, OPUS_RATE_HZ, format="OGG", subtype="OPUS")
    return note.getvalue()
