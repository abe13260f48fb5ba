"""A PostgreSQL server of its own, thrown away afterwards; its text is sorted as people sort it, not by characters."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

NOBODY = 65534
_QUIET = ("-c", "listen_addresses=", "-c", "max_connections=60")


def programs() -> Path | None:
    """The folder with the programs of the newest server that is installed."""
    found = shutil.which("initdb")
    places = [*([Path(found).parent] if found else []), *Path("/usr/lib/postgresql").glob("*/bin")]
    whole = [place for place in places if (place / "initdb").exists() and (place / "postgres").exists()]
    return max(whole, key=lambda place: (len(str(place)), str(place)), default=None)


@contextmanager
def server(bin_folder: Path) -> Iterator[str]:
    """Runs until the block ends; gives its address. It refuses to run as root, so root runs it as nobody."""
    user = {"user": NOBODY, "group": NOBODY} if os.geteuid() == 0 else {}
    with tempfile.TemporaryDirectory(prefix="pg") as folder:
        if user:
            os.chown(folder, NOBODY, NOBODY)
        make = ["initdb", "-D", f"{folder}/data", "-A", "trust", "-U", "rowhand", "-E", "UTF8", "--no-sync"]
        locale = ["--locale=C.UTF-8", "--locale-provider=icu", "--icu-locale=en-US"]
        control = ["pg_ctl", "-D", f"{folder}/data", "-w"]
        _run(bin_folder, [*make, *locale], folder, user)
        _run(bin_folder, [*control, "-l", f"{folder}/log", "-o", _options(folder), "start"], folder, user)
        try:
            yield f"postgresql://rowhand@/postgres?host={folder}"
        finally:
            _run(bin_folder, [*control, "-m", "immediate", "stop"], folder, user)


def _options(folder: str) -> str:
    return " ".join([f"-k {folder}", *_QUIET])


def _run(bin_folder: Path, command: list[str], folder: str, user: dict[str, int]) -> None:
    program, *options = command
    done = subprocess.run(
        [str(bin_folder / program), *options],
        cwd=folder,
        env={"PATH": os.environ.get("PATH", ""), "HOME": folder, "LC_ALL": "C.UTF-8"},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        check=False,
        **user,  # type: ignore[call-overload]
    )
    assert done.returncode == 0, f"{program}: {done.stderr}"
