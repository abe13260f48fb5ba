"""Voice notes that are written are read back as the same sound."""

from __future__ import annotations

import numpy as np
import pytest

from demo.recording import FOLDER
from speech import container
from speech.audio import SAMPLE_RATE_HZ, AudioClip, decode, encode_opus
from speech.errors import AudioError, AudioFault


def spectrum(clip: AudioClip) -> np.ndarray:
    """Energy below 4 kHz in frames of 32 ms, in bands of 250 Hz; shape (frames, 16)."""
    frames = clip.samples[: len(clip.samples) // 512 * 512].reshape(-1, 512) * np.hanning(512)
    return (np.abs(np.fft.rfft(frames))[:, :128] ** 2).reshape(len(frames), 16, 8).sum(axis=2)


def test_speech_comes_back_as_it_was() -> None:
    said = decode(FOLDER / "row-three.ogg")
    note = encode_opus(said)
    back = decode(note)
    assert back.duration_s == pytest.approx(said.duration_s, abs=0.03)
    frames = min(len(spectrum(back)), len(spectrum(said)))
    same = np.corrcoef(np.log(spectrum(back)[:frames] + 1e-4).ravel(), np.log(spectrum(said)[:frames] + 1e-4).ravel())
    assert same[0, 1] > 0.97
    assert len(note) < len(said.pcm16()) / 3


def test_a_tone_keeps_its_pitch_and_loudness() -> None:
    time = np.arange(2 * SAMPLE_RATE_HZ) / SAMPLE_RATE_HZ
    tone = AudioClip((0.5 * np.sin(2 * np.pi * 440 * time)).astype(np.float32))
    back = decode(encode_opus(tone))
    loudest = np.argmax(np.abs(np.fft.rfft(back.samples))) / back.duration_s
    assert loudest == pytest.approx(440, abs=2)
    assert np.sqrt(np.mean(back.samples**2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.05)


def test_it_is_one_channel_of_opus_in_ogg() -> None:
    note = encode_opus(AudioClip(np.full(SAMPLE_RATE_HZ, 3.0, dtype=np.float32)))
    head = note.index(b"OpusHead")
    assert note[head + 9] == 1
    assert container.kind(note) is not None
    assert not container.is_cut(note)
    assert container.is_cut(note[:-10])


def test_without_sound_there_is_no_note() -> None:
    with pytest.raises(AudioError) as raised:
        encode_opus(AudioClip(np.zeros(0, dtype=np.float32)))
    assert raised.value.reason is AudioFault.EMPTY


def test_a_minute_can_be_sent() -> None:
    noise = np.random.default_rng(3).normal(0, 0.1, 59 * SAMPLE_RATE_HZ).astype(np.float32)
    assert decode(encode_opus(AudioClip(noise))).duration_s == pytest.approx(59, abs=0.05)
