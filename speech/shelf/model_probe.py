"""Whether a Vosk model works: loaded and made to listen for a second, in a process of its own.

A model file that is wrong can end the process that reads it, so the one that asks is never the one that loads.
"""

from __future__ import annotations

import multiprocessing
import os
import re
import signal
from collections.abc import Sequence
from dataclasses import dataclass
from multiprocessing.connection import Connection
from pathlib import Path

import numpy as np

from speech.audio import AudioClip
from speech.errors import GrammarError, ModelBroken
from speech.vosk import VoskRecognizer

LONGEST_S = 600.0


@dataclass(frozen=True, slots=True)
class ProbeResult:
    """A model that worked: the most memory that a process hearing with it held, where the system tells; ``speaks`` is
    whether it knows some of the words that it must know."""

    memory_bytes: int | None
    speaks: bool


def prove(folder: Path, language: str, words: Sequence[str], longest_s: float = LONGEST_S) -> ProbeResult:
    """Load a model and hear a second of hiss with it; ``words`` are such that it must know some of them. Raises
    ModelBroken with the reason."""
    context = multiprocessing.get_context("spawn")
    receiving, sending = context.Pipe(duplex=False)
    process = context.Process(target=_hear, args=(folder, language, words, sending))
    process.start()
    sending.close()
    answer: ProbeResult | str
    try:
        answer = receiving.recv() if receiving.poll(longest_s) else f"it did not load within {longest_s:.0f} s"
    except EOFError:
        process.join()
        answer = _ended(process.exitcode or 0)
    finally:
        process.kill()
        process.join()
    if isinstance(answer, ProbeResult):
        return answer
    raise ModelBroken(folder, answer)


def _ended(code: int) -> str:
    if code == -signal.SIGKILL:
        return "the computer stopped the process that loaded it; it may need more memory than there is"
    return f"vosk ended with signal {-code}" if code < 0 else f"vosk ended with code {code}"


def _hear(folder: Path, language: str, words: Sequence[str], sending: Connection) -> None:
    """Runs in the process of its own; sends what it held, or a sentence. What Kaldi prints goes nowhere."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    answer: ProbeResult | str
    try:
        grammar = f"#JSGF V1.0; grammar numbers; public <say> = {' | '.join(words)};"
        VoskRecognizer(folder, language).transcribe(_hiss(), language, grammar)
        answer = ProbeResult(_most_held(), speaks=True)
    except ModelBroken as error:
        answer = error.why
    except GrammarError:
        answer = ProbeResult(_most_held(), speaks=False)
    except Exception as error:
        answer = f"{type(error).__name__}: {error}"
    sending.send(answer)


def _hiss() -> AudioClip:
    return AudioClip(np.random.default_rng(0).standard_normal(16_000).astype(np.float32) * np.float32(0.01))


def _most_held() -> int | None:
    """Peak memory of this process alone (a value inherited from whoever started it would be too high)."""
    try:
        found = re.search(r"VmHWM:\s+(\d+) kB", Path("/proc/self/status").read_text(encoding="utf-8"))
    except OSError:
        return None
    return int(found[1]) * 1024 if found else None
