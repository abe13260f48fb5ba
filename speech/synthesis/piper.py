"""Piper as a voice: the installed program with a voice file, one process that stays and reads a text a line.

The program is started with ``--output-dir``: it writes one WAV file for each line of its input, and then a line that
ends with the name of that file. It ends by itself when its input is closed.
"""

from __future__ import annotations

import contextlib
import os
import queue
import re
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import IO

from speech.audio import AudioClip, decode
from speech.errors import AudioError, VoiceBroken, VoiceMissing
from speech.synthesis.utterable import SILENCE, patience_s, sayable

NAME = "piper"
ATTEMPTS = 2
LONGEST_S = 600.0
STEADY = ("--noise-scale", "0", "--noise-w-scale", "0")
"""No chance in the voice: the same words sound the same each time."""
_WRITTEN = re.compile(r"([^/\\]+\.wav)\s*$")


class _Failed(Exception):
    """One attempt that gave no sound."""


def program() -> tuple[str, ...] | None:
    """How Piper is started: the package beside Rowhand, else ``piper`` on the path."""
    if find_spec("piper") is not None:
        return (sys.executable, "-m", "piper")
    found = shutil.which(NAME)
    return (found,) if found else None


def voice_file(folder: Path) -> Path | None:
    """The first voice in a folder: a .onnx file with its .onnx.json beside it."""
    with contextlib.suppress(OSError):
        return next((file for file in sorted(folder.glob("*.onnx")) if _described(file).is_file()), None)
    return None


def _described(voice: Path) -> Path:
    return voice.with_name(f"{voice.name}.json")


class Piper:
    """A Piper voice of ``language`` at ``rate`` times its usual pace; its process starts with the first text."""

    name = NAME

    def __init__(self, voice: Path, language: str, rate: float = 1.0) -> None:
        self._voice = voice
        self._language = language
        self._rate = rate
        self._process: _Process | None = None
        self._lock = threading.Lock()

    @property
    def identity(self) -> str:
        about = self._voice.stat() if self._voice.exists() else None
        made = f"{about.st_size} {about.st_mtime_ns}" if about else ""
        return " ".join((NAME, self._voice.name, made, *self._pace()))

    @property
    def process_id(self) -> int | None:
        """The process that speaks, while there is one."""
        return self._process.popen.pid if self._process else None

    def speak(self, text: str) -> AudioClip:
        words = sayable(text)
        if not words:
            return SILENCE
        with self._lock:
            return self._spoken(words)

    def close(self) -> None:
        """End the process; the next text starts another."""
        with self._lock:
            self._end()

    def _spoken(self, words: str) -> AudioClip:
        why = ""
        for _ in range(ATTEMPTS):
            try:
                self._process = self._process or _started(self._command())
                return self._process.spoken(words, patience_s(words))
            except (_Failed, OSError, AudioError) as error:
                why = str(error)
                self._end()
        raise VoiceBroken(f"{NAME} {self._voice.stem}", why)

    def _end(self) -> None:
        if self._process:
            self._process.end()
        self._process = None

    def _command(self) -> list[str]:
        found = program()
        if found is None or not self._voice.is_file():
            raise VoiceMissing(self._language, NAME, f"install Piper and put a voice into {self._voice.parent}")
        return [*found, "--model", str(self._voice), *self._pace()]

    def _pace(self) -> tuple[str, ...]:
        return ("--length-scale", f"{1 / self._rate:.4f}", *STEADY)


@dataclass(frozen=True)
class _Process:
    """A running Piper, the folder that it writes into, and what it printed."""

    popen: subprocess.Popen[str]
    folder: tempfile.TemporaryDirectory[str]
    printed: queue.SimpleQueue[str | None]

    def spoken(self, words: str, patience: float) -> AudioClip:
        """Raises _Failed or OSError when there is no sound, AudioError when it cannot be read."""
        assert self.popen.stdin
        self.popen.stdin.write(f"{words}\n")
        self.popen.stdin.flush()
        file = self._file(patience)
        try:
            return decode(file, LONGEST_S)
        finally:
            file.unlink(missing_ok=True)

    def _file(self, patience: float) -> Path:
        last = "it ended without a word"
        for line in self._lines(patience):
            written = _WRITTEN.search(line)
            file = Path(self.folder.name) / written[1] if written else None
            if file and file.exists():
                return file
            last = line.strip() or last
        raise _Failed(last)

    def _lines(self, patience: float) -> Iterator[str]:
        """What is printed until the process ends; raises _Failed when that takes longer than ``patience`` seconds."""
        until = time.monotonic() + patience
        while True:
            try:
                line = self.printed.get(timeout=max(0.0, until - time.monotonic()))
            except queue.Empty:
                raise _Failed("it did not answer in time") from None
            if line is None:
                return
            yield line

    def end(self) -> None:
        self.popen.kill()
        self.popen.wait()
        with contextlib.suppress(OSError):
            assert self.popen.stdin
            self.popen.stdin.close()
        self.folder.cleanup()


def _started(command: list[str]) -> _Process:
    """Raises OSError when the program cannot be started."""
    folder = tempfile.TemporaryDirectory(prefix="rowhand-voice-", ignore_cleanup_errors=True)
    popen = subprocess.Popen(
        [*command, "--output-dir", folder.name],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        errors="replace",
        env={**os.environ, "PYTHONUTF8": "1"},
    )
    printed: queue.SimpleQueue[str | None] = queue.SimpleQueue()
    threading.Thread(target=_collect, args=(popen.stdout, printed), daemon=True).start()
    return _Process(popen, folder, printed)


def _collect(output: IO[str], printed: queue.SimpleQueue[str | None]) -> None:
    with output:
        for line in output:
            printed.put(line)
    printed.put(None)
