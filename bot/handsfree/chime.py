"""What makes a reminder heard over an engine: beeps before the words, more of them and all louder at every call."""

from __future__ import annotations

import numpy as np

from speech.audio import AudioClip, Samples

PITCH_HZ = 880.0
BEEP_S, GAP_S, EDGE_S = 0.18, 0.12, 0.01
MOST_BEEPS = 4
QUIETEST, STEP_DB = 0.3, 6.0


def called(clip: AudioClip, attempt: int) -> AudioClip:
    """As many beeps as calls so far, then the words; both 6 dB louder at each call, as far as that goes."""
    gain = 10 ** (STEP_DB * (attempt - 1) / 20)
    beeps = [_beep(min(QUIETEST * gain, 1.0), clip.sample_rate_hz)] * min(attempt, MOST_BEEPS)
    return AudioClip(np.concatenate([*beeps, _louder(clip.samples, gain)]), clip.sample_rate_hz)


def _beep(height: float, rate_hz: int) -> Samples:
    """A tone with soft edges, and the silence after it."""
    times = np.arange(round(BEEP_S * rate_hz)) / rate_hz
    edges = np.minimum(1.0, np.minimum(times, BEEP_S - times) / EDGE_S)
    tone = height * edges * np.sin(2 * np.pi * PITCH_HZ * times)
    return np.concatenate([tone, np.zeros(round(GAP_S * rate_hz))]).astype(np.float32)


def _louder(samples: Samples, gain: float) -> Samples:
    """Louder by a gain; what would be cut off is bent instead, so that words stay words."""
    return samples if gain <= 1 else np.tanh(samples * gain).astype(np.float32)
