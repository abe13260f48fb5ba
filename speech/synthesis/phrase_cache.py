"""What a voice has said before, kept as sound, so that it is said again at once."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile

from speech.audio import SAMPLE_RATE_HZ, AudioClip, Samples, decode
from speech.errors import AudioError
from speech.synthesis.synthesizer import Synthesizer
from speech.synthesis.utterable import SILENCE, sentences

LARGEST_BYTES = 64 * 2**20
LONGEST_S = 600.0
SUFFIX = ".said"
PAUSE_S = 0.2
QUIET = 10 ** (-60 / 20)
"""What stays below this, 60 dB under the loudest there can be, is silence."""
_PAUSE = np.zeros(int(PAUSE_S * SAMPLE_RATE_HZ), dtype=np.float32)
_DIGEST_BYTES = hashlib.sha256().digest_size


@dataclass(frozen=True)
class PhraseCache:
    """A voice with a folder of the sentences it said, at most ``largest`` bytes: those not used for longest go first.

    A file is the SHA-256 of the rest, and the sound as FLAC; one that does not fit its sum is made again. A folder that
    cannot be used costs time and nothing else.
    """

    voice: Synthesizer
    language: str
    folder: Path
    largest: int = LARGEST_BYTES

    @property
    def name(self) -> str:
        return self.voice.name

    @property
    def identity(self) -> str:
        return self.voice.identity

    def speak(self, text: str) -> AudioClip:
        """Sentence by sentence with a short pause between, whatever silence a voice puts around each; those that were
        said before cost no speaking.

        Raises what the voice raises.
        """
        said = [_without_silence(self._sentence(sentence).samples) for sentence in sentences(text)]
        parts = [part for samples in said for part in (_PAUSE, samples)]
        return AudioClip(np.concatenate(parts[1:])) if parts else SILENCE

    def warm(self, texts: Iterable[str]) -> int:
        """Say every sentence that was not said before; how many those were. Raises what the voice raises."""
        all_ = dict.fromkeys(sentence for text in texts for sentence in sentences(text))
        new = [sentence for sentence in all_ if _kept(self.place(sentence)) is None]
        for sentence in new:
            self._sentence(sentence)
        return len(new)

    def _sentence(self, sentence: str) -> AudioClip:
        place = self.place(sentence)
        kept = _kept(place)
        if kept is not None:
            return kept
        said = self.voice.speak(sentence)
        self._keep(place, said)
        return said

    def place(self, sentence: str) -> Path:
        """The file for a sentence."""
        key = json.dumps([sentence, self.language, self.identity])
        return self.folder / f"{hashlib.sha256(key.encode()).hexdigest()}{SUFFIX}"

    def _keep(self, place: Path, said: AudioClip) -> None:
        with contextlib.suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            _write(place, _sealed(said))
            self._shed(keep=place)

    def _shed(self, keep: Path) -> None:
        """Remove the files that were not used for longest, until the rest fits."""
        held = sorted(_held(self.folder), key=lambda each: each[0])
        total = sum(size for _, size, _ in held)
        for _, size, file in held:
            if total <= self.largest:
                return
            if file != keep:
                file.unlink(missing_ok=True)
                total -= size


def _without_silence(samples: Samples) -> Samples:
    """The sound from where it begins to where it ends; nothing taken away where it is silent throughout."""
    heard = np.flatnonzero(np.abs(samples) > QUIET)
    return samples[heard[0] : heard[-1] + 1] if len(heard) else samples


def _kept(place: Path) -> AudioClip | None:
    """The sound in a file, which now counts as used; None where there is none or it is damaged."""
    try:
        sealed = place.read_bytes()
        sum_, sound = sealed[:_DIGEST_BYTES], sealed[_DIGEST_BYTES:]
        if hashlib.sha256(sound).digest() != sum_:
            return None
        said = decode(sound, LONGEST_S)
        os.utime(place)
        return said
    except (OSError, AudioError):
        return None


def _sealed(said: AudioClip) -> bytes:
    sound = io.BytesIO()
    soundfile.write(sound, said.samples, said.sample_rate_hz, format="FLAC", subtype="PCM_16")
    return hashlib.sha256(sound.getvalue()).digest() + sound.getvalue()


def _write(place: Path, data: bytes) -> None:
    """The whole file or none of it, whoever reads or stops meanwhile."""
    handle, part = tempfile.mkstemp(dir=place.parent, suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        Path(part).replace(place)
    except BaseException:
        Path(part).unlink(missing_ok=True)
        raise


def _held(folder: Path) -> Iterable[tuple[int, int, Path]]:
    """When each file was last used, its size in bytes, and the file."""
    for file in folder.iterdir():
        with contextlib.suppress(FileNotFoundError):
            about = file.stat()
            yield about.st_mtime_ns, about.st_size, file
