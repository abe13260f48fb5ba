"""espeak-ng as a voice: the installed program, one short process for each text."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

from speech.audio import AudioClip, decode
from speech.errors import AudioError, VoiceBroken, VoiceMissing
from speech.synthesis.utterable import SILENCE, patience_s, sayable

NAME = "espeak-ng"
WORDS_PER_MINUTE = 160
ATTEMPTS = 2
LONGEST_S = 600.0


def program() -> Path | None:
    """The espeak-ng on the path."""
    found = shutil.which(NAME)
    return Path(found) if found else None


@dataclass(frozen=True)
class Espeak:
    """espeak-ng in ``language`` at ``rate`` times its usual pace; ``voice`` is its name for a way to speak it."""

    language: str
    rate: float = 1.0
    voice: str = ""
    name: str = NAME

    @property
    def identity(self) -> str:
        return f"{NAME} {self._voice} {self._pace}"

    @property
    def _voice(self) -> str:
        return self.voice or self.language

    @property
    def _pace(self) -> str:
        return str(round(WORDS_PER_MINUTE * self.rate))

    def speak(self, text: str) -> AudioClip:
        words = sayable(text)
        if not words:
            return SILENCE
        with tempfile.TemporaryDirectory(prefix="rowhand-voice-") as folder:
            return self._spoken(words, Path(folder) / "said.wav")

    def _spoken(self, words: str, file: Path) -> AudioClip:
        why = ""
        for _ in range(ATTEMPTS):
            try:
                subprocess.run(
                    self._command(file),
                    input=words.encode(),
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.PIPE,
                    timeout=patience_s(words),
                    check=True,
                )
                return decode(file, LONGEST_S)
            except (OSError, subprocess.SubprocessError, AudioError) as error:
                why = _reason(error)
        raise VoiceBroken(NAME, why)

    def _command(self, file: Path) -> list[str]:
        found = program()
        if found is None:
            raise VoiceMissing(self.language, NAME, "install espeak-ng")
        return [str(found), "-v", self._voice, "-s", self._pace, "-b", "1", "-w", str(file), "--stdin"]


def _reason(error: OSError | subprocess.SubprocessError | AudioError) -> str:
    match error:
        case subprocess.TimeoutExpired():
            return "it did not answer in time"
        case subprocess.CalledProcessError(stderr=bytes() as said, returncode=code):
            return said.decode(errors="replace").strip() or f"it ended with {code}"
        case _:
            return str(error)
