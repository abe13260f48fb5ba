"""Recordings become clips: mono, 16 kHz, centred, of a bounded length; and clips become voice notes.

Read are WAV, FLAC and Ogg with Opus or Vorbis inside, at 4 to 192 kHz and with up to 8 channels. Nothing is decoded
beyond the longest length allowed, so a small file that claims ten hours costs no memory.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
import soxr
from numpy.typing import NDArray

from speech import container
from speech.errors import AudioError, AudioFault

Samples = NDArray[np.float32]

SAMPLE_RATE_HZ = 16_000
LONGEST_S = 60.0
SHORTEST_S = 0.1
LARGEST_BYTES = 48 * 2**20
MOST_SAMPLES = 12_000_000
"""Over all channels, a minute of two at 96 kHz: a small file can unpack to a hundred times its size (own decision)."""
OPUS_RATE_HZ = 48_000
RESAMPLING = "HQ"
RATES_HZ = range(4_000, 192_001)
CHANNELS = range(1, 9)


@dataclass(frozen=True, slots=True, eq=False)
class AudioClip:
    """Sound ready to be recognised: samples in -1 .. 1, one channel, read-only."""

    samples: Samples
    sample_rate_hz: int = SAMPLE_RATE_HZ

    def __post_init__(self) -> None:
        self.samples.flags.writeable = False

    @property
    def duration_s(self) -> float:
        return len(self.samples) / self.sample_rate_hz

    def pcm16(self) -> bytes:
        """The samples as signed 16-bit little-endian."""
        return (np.clip(self.samples, -1, 1) * 32767).astype("<i2").tobytes()

    def at_speed(self, speed: float) -> AudioClip:
        """The same sound played faster (above 1) or slower, pitch and all."""
        faster = soxr.resample(self.samples, self.sample_rate_hz * speed, self.sample_rate_hz, quality=RESAMPLING)
        return AudioClip(np.asarray(faster, dtype=np.float32), self.sample_rate_hz)


def clip(samples: NDArray[np.floating], sample_rate_hz: int) -> AudioClip:
    """A clip from raw samples in -1 .. 1, shape (n,) or (n, channels), at any rate."""
    mono = _centred(_loudest_channel(np.atleast_2d(samples.T).T.astype(np.float32)))
    if sample_rate_hz != SAMPLE_RATE_HZ:
        mono = np.asarray(soxr.resample(mono, sample_rate_hz, SAMPLE_RATE_HZ, quality=RESAMPLING), dtype=np.float32)
    return AudioClip(np.ascontiguousarray(mono))


def decode(source: bytes | Path, max_seconds: float = LONGEST_S) -> AudioClip:
    """Read a recording from memory or a file.

    Raises AudioError: empty (no sound inside), cut (the end is missing), too_long (beyond ``max_seconds``),
    not_audio (another kind of file), unreadable (damaged, or the file cannot be opened).
    """
    data = source if isinstance(source, bytes) else _read_file(source)
    if not data:
        raise AudioError(AudioFault.EMPTY, "the recording is empty: say it again")
    if len(data) > LARGEST_BYTES:
        raise _too_long(max_seconds)
    if container.kind(data) is None:
        raise AudioError(AudioFault.NOT_AUDIO, "this is not a recording I can read: send Ogg, WAV or FLAC")
    if container.is_cut(data):
        raise AudioError(AudioFault.CUT, "the end of the recording is missing: send it again")
    samples, rate = _decoded(data, max_seconds)
    if len(samples) < SHORTEST_S * rate:
        raise AudioError(AudioFault.EMPTY, "the recording has no sound in it: say it again")
    return clip(samples, rate)


def encode_opus(clip: AudioClip) -> bytes:
    """One channel at 48 kHz, the rate that every Opus decoder knows. Raises AudioError (empty) without samples."""
    if not len(clip.samples):
        raise AudioError(AudioFault.EMPTY, "there is no sound to make a voice note of")
    samples = soxr.resample(np.clip(clip.samples, -1, 1), clip.sample_rate_hz, OPUS_RATE_HZ, quality=RESAMPLING)
    note = io.BytesIO()
    soundfile.write(note, samples, OPUS_RATE_HZ, format="OGG", subtype="OPUS")
    return note.getvalue()


def _read_file(path: Path) -> bytes:
    try:
        if path.exists() and not path.is_file():
            raise AudioError(AudioFault.UNREADABLE, "the recording cannot be opened: it is no file")
        with path.open("rb") as file:
            return file.read(LARGEST_BYTES + 1)
    except OSError as error:
        why = (error.strerror or "no access").lower()
        raise AudioError(AudioFault.UNREADABLE, f"the recording cannot be opened: {why}") from error


def _decoded(data: bytes, max_seconds: float) -> tuple[Samples, int]:
    try:
        with soundfile.SoundFile(io.BytesIO(data)) as file:
            if file.samplerate not in RATES_HZ or file.channels not in CHANNELS:
                raise AudioError(
                    AudioFault.UNREADABLE,
                    f"a recording at {file.samplerate} Hz with {file.channels} channels cannot be used",
                )
            limit = int(max_seconds * file.samplerate)
            if 0 <= limit < file.frames < 2**62:
                raise _too_long(max_seconds)
            if min(limit, file.frames) * file.channels > MOST_SAMPLES:
                raise _too_long(max_seconds)
            samples = _frames(file, limit + 1)
            if len(samples) > limit:
                raise _too_long(max_seconds)
            return np.nan_to_num(samples, nan=0.0, posinf=1.0, neginf=-1.0), int(file.samplerate)
    except soundfile.LibsndfileError as error:
        raise AudioError(AudioFault.UNREADABLE, "the recording is damaged: send it again") from error


def _frames(file: soundfile.SoundFile, limit: int) -> Samples:
    """At most ``limit`` frames; a decoder that stops on the way has met the end of a cut file."""
    try:
        frames: Samples = file.read(limit, dtype="float32", always_2d=True)
    except soundfile.LibsndfileError as error:
        raise AudioError(AudioFault.CUT, "the end of the recording is missing: send it again") from error
    return frames


def _too_long(max_seconds: float) -> AudioError:
    return AudioError(AudioFault.TOO_LONG, f"the recording is longer than {max_seconds:g} seconds: say it in pieces")


def _loudest_channel(frames: Samples) -> Samples:
    """One channel, not the mean: a dead or reversed second channel must not weaken the first."""
    power = np.einsum("ij,ij->j", frames, frames) if len(frames) else np.zeros(frames.shape[1])
    return frames[:, int(np.argmax(power))]


def _centred(samples: Samples) -> Samples:
    return samples - samples.mean(dtype=np.float64).astype(np.float32) if len(samples) else samples
