"""What a figure was measured on."""

from __future__ import annotations

import os
import platform
import re
import sqlite3
from dataclasses import dataclass
from pathlib import Path

UNKNOWN = "unknown"


@dataclass(frozen=True)
class Machine:
    """A computer, what runs on it, and what lies under the records; ``load`` is how many programs wanted a core in the
    minute before."""

    cpu: str
    cores: int
    python: str
    sqlite: str
    file_system: str
    load: float

    @classmethod
    def holding(cls, folder: Path) -> Machine:
        """This computer, with the file system of a folder."""
        cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
        load = round(os.getloadavg()[0], 1)
        return cls(_cpu(), cores, platform.python_version(), sqlite3.sqlite_version, _file_system(folder), load)

    def __str__(self) -> str:
        runs = f"Python {self.python}, SQLite {self.sqlite} on {self.file_system}"
        return f"{self.cpu}, cores {self.cores}, load {self.load}, {runs}"


def _cpu() -> str:
    try:
        named = re.search(r"^model name\s*: (.+)$", Path("/proc/cpuinfo").read_text(), re.MULTILINE)
    except OSError:
        named = None
    return named[1].strip() if named else platform.processor() or platform.machine() or UNKNOWN


def _file_system(folder: Path) -> str:
    """The kind of the innermost file system that a folder lies in."""
    try:
        mounted = [line.split() for line in Path("/proc/self/mounts").read_text().splitlines()]
    except OSError:
        return UNKNOWN
    kinds = {Path(place.replace("\\040", " ")): kind for _, place, kind, *_ in mounted}
    return next((kinds[one] for one in (folder.resolve(), *folder.resolve().parents) if one in kinds), UNKNOWN)
