"""The real Piper as a process that stays: killed, stopped, broken, orphaned."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from speech.errors import VoiceBroken, VoiceMissing
from speech.synthesis import piper
from speech.synthesis.piper import Piper
from tests.helpers.process import ROOT, python
from tests.helpers.voices import PIPER_VOICE, needs_piper

pytestmark = [needs_piper, pytest.mark.xdist_group("piper")]
SHORT = "Once more."


@pytest.fixture(scope="module")
def voice() -> Iterator[Piper]:
    assert PIPER_VOICE
    speaker = Piper(PIPER_VOICE, "en")
    yield speaker
    speaker.close()


def is_alive(process: int) -> bool:
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def test_one_process_says_it_all_and_the_same_each_time(voice: Piper) -> None:
    first = voice.speak(SHORT)
    process = voice.process_id
    longer = voice.speak("How many rows does the planter have?")
    again = voice.speak(SHORT)
    assert voice.process_id == process is not None
    assert 0.3 < first.duration_s < 1.5 < longer.duration_s < 5
    assert np.array_equal(first.samples, again.samples)
    assert np.abs(first.samples).max() > 0.1


def test_text_is_never_an_option_nor_a_second_line(voice: Piper) -> None:
    assert voice.speak("--help").duration_s > 0.2
    both = voice.speak("Once more.\nOnce more.").duration_s
    assert both > 1.5 * voice.speak(SHORT).duration_s
    assert voice.speak("\u200b 🙂 …").duration_s == 0


def test_after_a_kill_it_speaks_with_a_new_process(voice: Piper) -> None:
    before = voice.speak(SHORT)
    killed = voice.process_id
    assert killed
    os.kill(killed, signal.SIGKILL)
    assert np.array_equal(voice.speak(SHORT).samples, before.samples)
    assert voice.process_id not in (None, killed)


def test_one_that_hangs_is_replaced(voice: Piper, monkeypatch: pytest.MonkeyPatch) -> None:
    voice.speak(SHORT)
    stopped = voice.process_id
    assert stopped
    os.kill(stopped, signal.SIGSTOP)
    patience = iter([0.3, 60.0])
    monkeypatch.setattr(piper, "patience_s", lambda words: next(patience))
    assert voice.speak(SHORT).duration_s > 0.3
    assert not is_alive(stopped)


def test_one_that_never_answers_is_given_up(voice: Piper, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(piper, "patience_s", lambda words: 0.0)
    with pytest.raises(VoiceBroken, match="in time"):
        voice.speak(SHORT)
    assert voice.process_id is None


def test_a_broken_voice_file_is_told(tmp_path: Path) -> None:
    assert PIPER_VOICE
    broken = tmp_path / "broken.onnx"
    broken.write_bytes(b"no model")
    shutil.copy(f"{PIPER_VOICE}.json", f"{broken}.json")
    with pytest.raises(VoiceBroken, match="broken"):
        Piper(broken, "en").speak(SHORT)


def test_a_voice_file_that_is_gone_is_missing(tmp_path: Path) -> None:
    with pytest.raises(VoiceMissing):
        Piper(tmp_path / "gone.onnx", "en").speak(SHORT)


def test_piper_ends_with_the_one_who_started_it() -> None:
    code = (
        "import sys, time; from pathlib import Path; from speech.synthesis.piper import Piper\n"
        f"voice = Piper(Path({str(PIPER_VOICE)!r}), 'en'); voice.speak('yes')\n"
        "print(voice.process_id, flush=True); time.sleep(60)"
    )
    parent = subprocess.Popen(python("-c", code), cwd=ROOT, stdout=subprocess.PIPE, text=True)
    assert parent.stdout
    with parent.stdout as said:
        process = int(said.readline())
        assert is_alive(process)
        parent.kill()
        parent.wait()
    until = time.monotonic() + 30
    while is_alive(process) and time.monotonic() < until:
        time.sleep(0.05)
    assert not is_alive(process)
