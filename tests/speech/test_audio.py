"""Recordings of every kind become the same clip, and every bad one gets its reason."""

import io

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from speech.audio import SAMPLE_RATE_HZ, clip, decode
from speech.errors import AudioError, AudioFault

KINDS = [
    ("OGG", "OPUS", 16_000),
    ("OGG", "OPUS", 48_000),
    ("OGG", "VORBIS", 44_100),
    ("WAV", "PCM_16", 8_000),
    ("WAV", "FLOAT", 44_100),
    ("WAV", "ULAW", 8_000),
    ("FLAC", "PCM_16", 16_000),
    ("FLAC", "PCM_24", 48_000),
]


def tone(seconds: float, rate: int, hertz: float = 440.0) -> np.ndarray:
    return (0.3 * np.sin(2 * np.pi * hertz * np.arange(int(seconds * rate)) / rate)).astype(np.float32)


def encoded(samples: np.ndarray, rate: int = 16_000, kind: str = "WAV", subtype: str = "PCM_16") -> bytes:
    file = io.BytesIO()
    soundfile.write(file, samples, rate, format=kind, subtype=subtype)
    return file.getvalue()


def pitch(samples: np.ndarray) -> float:
    return float(np.argmax(np.abs(np.fft.rfft(samples))) * SAMPLE_RATE_HZ / len(samples))


def reason(data: bytes, **limits: float) -> AudioFault:
    with pytest.raises(AudioError) as caught:
        decode(data, **limits)
    assert str(caught.value).count("\n") == 0
    return caught.value.reason


@pytest.mark.parametrize(("kind", "subtype", "rate"), KINDS)
def test_every_kind_keeps_length_and_pitch(kind: str, subtype: str, rate: int) -> None:
    heard = decode(encoded(tone(1.0, rate), rate, kind, subtype))
    assert heard.sample_rate_hz == SAMPLE_RATE_HZ
    assert heard.duration_s == pytest.approx(1.0, abs=0.02)
    assert pitch(heard.samples) == pytest.approx(440, abs=2)


def test_a_file_reads_like_its_bytes(tmp_path) -> None:
    data = encoded(tone(0.5, 16_000))
    path = tmp_path / "a.wav"
    path.write_bytes(data)
    assert np.array_equal(decode(path).samples, decode(data).samples)


def test_offset_is_taken_out() -> None:
    heard = decode(encoded(tone(1.0, 16_000) + 0.4))
    assert abs(float(heard.samples.mean())) < 1e-4
    assert np.abs(heard.samples).max() == pytest.approx(0.3, abs=0.01)


@pytest.mark.parametrize("other", [0.0, -1.0], ids=["dead", "reversed"])
def test_a_bad_second_channel_does_not_weaken_the_first(other: float) -> None:
    one = tone(1.0, 16_000)
    heard = decode(encoded(np.stack([one, one * other], axis=1)))
    assert np.abs(heard.samples).max() == pytest.approx(0.3, abs=0.01)


def test_a_clip_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        clip(tone(0.2, 16_000), 16_000).samples[0] = 1


def test_a_faster_clip_is_shorter_and_higher() -> None:
    faster = clip(tone(1.0, 16_000), 16_000).at_speed(1.25)
    assert faster.duration_s == pytest.approx(0.8, abs=0.01)
    assert pitch(faster.samples) == pytest.approx(550, abs=3)


@pytest.mark.parametrize(("kind", "subtype", "rate"), KINDS)
@pytest.mark.parametrize("share", [0.4, 0.9])
def test_a_cut_file_is_called_cut(kind: str, subtype: str, rate: int, share: float) -> None:
    data = encoded(tone(2.0, rate), rate, kind, subtype)
    assert reason(data[: int(len(data) * share)]) is AudioFault.CUT


def test_a_size_left_open_by_a_streaming_writer_is_no_cut() -> None:
    data = bytearray(encoded(tone(0.5, 16_000)))
    at = data.index(b"data") + 4
    data[at : at + 4] = b"\xff\xff\xff\xff"
    assert decode(bytes(data)).duration_s == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize("data", [b"", encoded(np.zeros(0, np.float32)), encoded(np.zeros(100, np.float32))])
def test_nothing_inside_is_empty(data: bytes) -> None:
    assert reason(data) is AudioFault.EMPTY


@pytest.mark.parametrize("data", [b"row three, 49.5 grams\n" * 50, b"\x00" * 500, b"ID3\x04" + bytes(500)])
def test_other_files_are_not_audio(data: bytes) -> None:
    assert reason(data) is AudioFault.NOT_AUDIO


@pytest.mark.parametrize("data", [b"fLaC" + bytes(200), b"OggS" + bytes(1) + b"\x04" + bytes(20) + b"\x00"])
def test_a_damaged_file_is_unreadable(data: bytes) -> None:
    assert reason(data) is AudioFault.UNREADABLE


def test_a_missing_file_is_unreadable(tmp_path) -> None:
    with pytest.raises(AudioError, match="no such file") as caught:
        decode(tmp_path / "none.ogg")
    assert caught.value.reason is AudioFault.UNREADABLE


def test_ten_silent_minutes_are_refused_without_reading_them(monkeypatch) -> None:
    data = encoded(np.zeros(16_000 * 600, np.float32), kind="FLAC")
    assert len(data) < 100_000
    monkeypatch.setattr(soundfile.SoundFile, "read", lambda *_, **__: pytest.fail("decoded"))
    assert reason(data) is AudioFault.TOO_LONG


def test_the_limit_is_the_callers() -> None:
    data = encoded(tone(3.0, 16_000), kind="OGG", subtype="OPUS")
    assert reason(data, max_seconds=2.0) is AudioFault.TOO_LONG
    assert decode(data, max_seconds=4.0).duration_s == pytest.approx(3.0, abs=0.02)


@given(st.sampled_from([kind for kind in KINDS if kind[2] <= 16_000]), st.data())
@settings(max_examples=80, deadline=None)
def test_a_damaged_recording_is_read_or_refused_and_nothing_else(
    kind: tuple[str, str, int], data: st.DataObject
) -> None:
    name, subtype, rate = kind
    file = bytearray(encoded(tone(0.4, rate), rate, name, subtype))
    for at in data.draw(st.lists(st.integers(0, len(file) - 1), min_size=1, max_size=5)):
        file[at] = data.draw(st.integers(0, 255))
    try:
        heard = decode(bytes(file[: data.draw(st.integers(1, len(file)))]))
    except AudioError as error:
        assert error.reason in AudioFault
    else:
        assert np.isfinite(heard.samples).all()
        assert heard.duration_s <= 61
