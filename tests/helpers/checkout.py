"""A checkout in miniature: the real scripts, and a Python that writes down what it is asked instead of installing."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
TOOLS = (
    "sh",
    "dirname",
    "readlink",
    "cat",
    "cksum",
    "awk",
    "grep",
    "tail",
    "rm",
    "mkdir",
    "sleep",
    "chmod",
    "cp",
    "touch",
)
CONSTRAINTS = (
    "# a header\n\n# [build]\none==1 \\\n    --hash=x\n\n# [run]\ntwo==2\nthree==3\n\n"
    "# [ears]\nfive==5\n\n# [test]\nfour==4\n"
)

PYTHON = """#!/bin/sh
case "$1 $2" in
"models install")
    echo "rowhand $*" >>"$ASKED"
    [ "$PIP" != deaf ] || exit 1
    mkdir -p "$ROWHAND_MODELS/installed"
    ;;
"-m venv") mkdir -p "$3/bin" && cp "$0" "$3/bin/python" && echo venv >>"$ASKED" ;;
"-m pytest") shift 2; echo "pytest" "$@" ;;
"-m demo") shift 2; echo "demo" "$@"; [ -z "${ROWHAND_MODELS:-}" ] || echo "$ROWHAND_MODELS" ;;
"-m pip")
    [ "$3" = install ] || exit 0
    shift 2
    echo "pip $*" >>"$ASKED"
    echo "Collecting two==2"
    case "$PIP" in
    slow) sleep 20 ;;
    offline) echo "WARNING: NewConnectionError: cannot connect"; exit 1 ;;
    broken) echo "ERROR: no such thing"; exit 1 ;;
    esac
    here=$(dirname "$0")
    cp "$0" "$here/rowhand"
    ;;
"-c "*) exec {real} "$@" ;;
"-V "*) echo Python 3.11.0 ;;
esac
"""


@dataclass(frozen=True)
class Checkout:
    """A folder with the scripts, and a PATH that holds no more than they may use."""

    root: Path
    tools: Path
    asked: Path

    def environment(self, pip: str = "works") -> dict[str, str]:
        return {"PATH": str(self.tools), "ASKED": str(self.asked), "PIP": pip, "HOME": str(self.root)}

    def start(
        self, script: str | Path, *arguments: str, pip: str = "works", models: str | None = None
    ) -> subprocess.CompletedProcess[str]:
        """Run a script from another folder, as a person would."""
        command = [str(self.root / script), *arguments]
        environment = self.environment(pip) | ({"ROWHAND_MODELS": models} if models else {})
        return subprocess.run(
            command, cwd="/", env=environment, capture_output=True, text=True, timeout=120, check=False
        )

    def interrupt(self, script: str) -> subprocess.CompletedProcess[str]:
        """Start a script whose install never ends, and press Ctrl-C once it is installing."""
        command = [str(self.root / script)]
        process = subprocess.Popen(
            command, cwd="/", env=self.environment("slow"), stderr=subprocess.PIPE, text=True, start_new_session=True
        )
        while not any(line.startswith("pip") for line in self.steps()):
            time.sleep(0.02)
        os.killpg(process.pid, signal.SIGINT)
        _, errors = process.communicate(timeout=60)
        return subprocess.CompletedProcess(command, process.returncode, "", errors)

    def steps(self) -> list[str]:
        """What the Python was asked so far."""
        return self.asked.read_text(encoding="utf-8").splitlines() if self.asked.exists() else []

    def python(self, text: str | None, name: str = "python3") -> None:
        """Put another Python in the PATH, or none."""
        (self.tools / name).unlink(missing_ok=True)
        if text is not None:
            (self.tools / name).write_text(text, encoding="utf-8")
            (self.tools / name).chmod(0o755)


def checkout(folder: Path) -> Checkout:
    """A new checkout below ``folder``, in a path with a space."""
    made = Checkout(folder / "my farm" / "rowhand", folder / "tools", folder / "asked.log")
    made.tools.mkdir(parents=True)
    for script in ("demo/run", "demo/venv.sh", "tests/run", "pyproject.toml"):
        (made.root / script).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / script, made.root / script)
    (made.root / "constraints.txt").write_text(CONSTRAINTS, encoding="utf-8")
    for tool in TOOLS:
        (made.tools / tool).symlink_to(shutil.which(tool) or f"/bin/{tool}")
    made.python(PYTHON.replace("{real}", sys.executable))
    return made
