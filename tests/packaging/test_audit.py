"""The audit asks about every package that is pinned, and says so where it cannot."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

from tests.packaging.test_constraints import ROOT, pins

PROGRAM = """#!/bin/sh
printf '%s\\n' "$*" >&2
while [ $# -gt 0 ]; do [ "$1" != -r ] || { echo "file"; cat "$2"; grep -q numpy "$2" && code=1; }; shift; done
exit "${code:-0}"
"""
"""Finds something about numpy alone, which stands in the first file."""


def audited(folder: Path, *options: str, program: str | None = PROGRAM) -> subprocess.CompletedProcess[str]:
    """The audit with a program in the place of pip-audit that tells what it is given and finds something."""
    for name in ("sh", "awk", "dirname", "readlink", "mktemp", "rm", "cat", "grep"):
        (folder / name).symlink_to(next(path for one in os.get_exec_path() if (path := Path(one, name)).exists()))
    if program is not None:
        (folder / "pip-audit").write_text(program, encoding="utf-8")
        (folder / "pip-audit").chmod(0o755)
    (folder / "files").mkdir()
    around = {"PATH": str(folder), "TMPDIR": str(folder / "files")}
    return subprocess.run([ROOT / "tests" / "audit", *options], env=around, capture_output=True, text=True, check=False)


def test_every_pin_is_asked_about_whatever_it_is_for(tmp_path: Path) -> None:
    done = audited(tmp_path, "--dry-run")
    files = [text.split() for text in done.stdout.split("file\n")[1:]]
    every = [f"{pin.name}{pin.specifier}" for pin in pins("build", "run", "ears", "test")]
    assert sorted(one for file in files for one in file) == sorted(every)
    assert len(files) > 1
    for file in files:
        assert len({one.partition("==")[0] for one in file}) == len(file), "pip-audit refuses a package twice"
    assert "--strict --no-deps --disable-pip" in done.stderr and "--dry-run" in done.stderr


def test_what_is_found_is_passed_on_and_nothing_is_left_behind(tmp_path: Path) -> None:
    assert audited(tmp_path).returncode == 1
    assert list((tmp_path / "files").iterdir()) == []


def test_without_the_program_one_sentence_says_what_to_install(tmp_path: Path) -> None:
    done = audited(tmp_path, program=None)
    assert (done.returncode, done.stdout) == (69, "")
    assert done.stderr == "rowhand: pip-audit is not installed: pipx install pip-audit\n"
