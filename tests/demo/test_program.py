"""The demo as a person starts it: its options, its end, and what it leaves behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.helpers.forked import completed

ROOT = Path(__file__).parents[2]
COMMAND = [sys.executable, "-m", "demo", "--text"]


def start(*options: str, scratch: Path | None = None) -> subprocess.CompletedProcess[str]:
    """The demo without pauses; ``scratch`` is where it makes folders of its own."""
    command = [*COMMAND, "--fast", *options]
    own = {**os.environ, **({"TMPDIR": str(scratch)} if scratch else {})}
    return completed(command, ROOT, own)


@pytest.mark.parametrize("language", ["en", pytest.param("es", marks=pytest.mark.campaign)])
def test_the_typed_evening_ends_on_target_with_a_record_to_look_at(language: str, tmp_path: Path) -> None:
    done = start("--language", language, "--into", str(tmp_path))
    assert (done.returncode, done.stderr) == (0, "")
    assert {"en": "Every row on target.", "es": "Todos los surcos en la meta."}[language] in done.stdout
    looks = [line.partition(": ")[2] for line in done.stdout.splitlines() if " record shifts --db " in line]
    assert len(looks) == 1
    looked = subprocess.run(looks[0], shell=True, cwd=ROOT, capture_output=True, text=True, timeout=60, check=False)
    assert (looked.returncode, "La Loma" in looked.stdout) == (0, True)


@pytest.mark.campaign
def test_one_part_is_played_alone_and_leaves_nothing_of_which_it_does_not_tell(tmp_path: Path) -> None:
    done = start("--part", "calibrate", scratch=tmp_path)
    assert done.returncode == 0
    assert "Every row on target." in done.stdout
    assert "La Loma" not in done.stdout
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("options", [("--engine", "trumpet"), ("--part", "dawn"), ("--into", "demo")])
def test_what_cannot_be_used_is_one_sentence(options: tuple[str, str]) -> None:
    done = start(*options)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert options[1] in done.stderr


def test_ctrl_c_ends_clean_and_leaves_no_process_and_no_folder(tmp_path: Path) -> None:
    process = subprocess.Popen(
        COMMAND,
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1", "TMPDIR": str(tmp_path)},
    )
    assert process.stdout is not None
    assert any("thirty inches" in line for line in process.stdout)
    children = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    workers = children.read_text().split() if children.exists() else []
    process.send_signal(signal.SIGINT)
    _, errors = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "Traceback" not in errors
    assert list(tmp_path.glob("rowhand-demo-*")) == []
    end = time.monotonic() + 60
    while alive := [worker for worker in workers if Path(f"/proc/{worker}").exists()]:
        assert time.monotonic() < end, alive
        time.sleep(0.05)
