"""Which voice speaks a language, and where its files are."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Literal, assert_never

from platformdirs import user_cache_path, user_data_path

from speech.synthesis import espeak, piper
from speech.synthesis.espeak import Espeak
from speech.synthesis.phrase_cache import PhraseCache
from speech.synthesis.synthesizer import Synthesizer

Preference = Literal["auto", "piper", "espeak-ng", "none"]


def installed(folder: Path | None = None) -> Path:
    """The folder with one folder of Piper voices for each language."""
    return folder or user_data_path("rowhand") / "voices"


def remembered(cache: Path | None = None) -> Path:
    """The folder of what was said before."""
    return cache or user_cache_path("rowhand") / "said"


def choose(
    language: str,
    preference: Preference = "auto",
    folder: Path | None = None,
    *,
    rate: float = 1.0,
    by_espeak: str = "",
    cache: Path | None = None,
) -> PhraseCache | None:
    """The voice for a language, made once and kept, with what it said before at hand; None where there is none.

    ``auto`` is Piper where the program and a voice of the language are there, else espeak-ng. ``folder`` replaces the
    folder of Piper voices, ``cache`` that of what was said before. ``rate`` is the pace, 1.0 the usual one.
    ``by_espeak`` is the voice of espeak-ng, else the one that it has under the code of the language.
    """
    voice = _voice(language, preference, installed(folder) / language, Espeak(language, rate, by_espeak))
    return PhraseCache(voice, language, remembered(cache)) if voice else None


def _voice(language: str, preference: Preference, folder: Path, other: Espeak) -> Synthesizer | None:
    match preference:
        case "piper":
            return _piper(folder, language, other.rate)
        case "espeak-ng":
            return _there(other)
        case "auto":
            return _piper(folder, language, other.rate) or _there(other)
        case "none":
            return None
        case unknown:
            assert_never(unknown)


def _piper(folder: Path, language: str, rate: float) -> Synthesizer | None:
    file = piper.voice_file(folder) if piper.program() else None
    return _ready(file.resolve(), language, rate) if file else None


def _there(voice: Espeak) -> Synthesizer | None:
    return voice if espeak.program() is not None else None


@lru_cache(maxsize=4)
def _ready(file: Path, language: str, rate: float) -> piper.Piper:
    return piper.Piper(file, language, rate)
