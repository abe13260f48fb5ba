"""Make constraints.txt: every package Rowhand is installed from, pinned and hashed, for Python 3.11 to 3.14.

Run ``python tests/packaging/pins.py`` in an environment that has ``uv``. The file has four sections, installed in this
order, and a package stands in the first one that needs it:

``[build]``  what builds the packages that come as source only, and Rowhand itself;
``[run]``    what Rowhand needs to talk, to hear, to draw, for the chat and for the page;
``[ears]``   what its third opinion on speech needs;
``[test]``   what its tests need.

``--upgrade`` moves every pin to the newest version; without it the pins that still fit stay.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
CONSTRAINTS = ROOT / "constraints.txt"
HEADER = (
    "# Pinned and hashed. Made by tests/packaging/pins.py from pyproject.toml; each section is installed in turn.\n"
)

COMPILED = "python_version >= '3.14' or (python_version == '3.12' and platform_machine == 'aarch64')"
SOURCE_BUILDS = [
    "setuptools",  # srt comes as source only
    *(
        f"{tool} ; {COMPILED}" for tool in ("cmake", "cython", "ninja", "scikit-build-core")
    ),  # pocketsphinx, no wheel there
]
READY_MADE = [
    "pocketsphinx==5.0.4 ; python_version == '3.12' and platform_machine == 'x86_64'",  # 5.1 has no wheel for 3.12
]


def pinned(requirements: list[str], within: str, *options: str) -> str:
    """The requirements with all that they need, resolved for every platform and Python at once."""
    with tempfile.TemporaryDirectory() as folder:
        wanted, limits = Path(folder, "wanted.in"), Path(folder, "limits.txt")
        wanted.write_text("\n".join(requirements) + "\n", encoding="utf-8")
        limits.write_text(within, encoding="utf-8")
        resolve = (
            "uv pip compile --quiet --universal --python-version 3.11 --fork-strategy fewest --no-header --no-annotate"
        )
        command = [*resolve.split(), *options, "--constraint", str(limits), str(wanted)]
        return subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout


def entries(text: str) -> dict[str, str]:
    """Each pin with its hashes, by its first line."""
    blocks = re.findall(r"^(?!#)\S.*\n(?:[ \t]+.*\n)*", text, flags=re.MULTILINE)
    return {block.split(" \\\n")[0].strip(): block for block in blocks}


def versions(text: str) -> str:
    """The pins alone, as limits for another resolution."""
    return "".join(f"{first}\n" for first in entries(text))


def with_included(project: dict[str, Any], *extras: str) -> list[str]:
    """What these extras need, with that of each extra that they bring along."""
    needed = []
    for text in (text for extra in extras for text in project["project"]["optional-dependencies"][extra]):
        brought = re.fullmatch(rf"{project['project']['name']}\[(.+)\]", text)
        needed += with_included(project, *brought[1].split(",")) if brought else [text]
    return list(dict.fromkeys(needed))


def sections(upgrade: bool) -> dict[str, str]:
    """The text of each section: what it needs and no earlier section has."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    build = [*project["build-system"]["requires"], *SOURCE_BUILDS]
    run = [*project["project"]["dependencies"], *with_included(project, "chat", "page", "speech", "paper")]
    ears, test = with_included(project, "ears"), with_included(project, "test")
    kept = "" if upgrade or not CONSTRAINTS.exists() else versions(CONSTRAINTS.read_text(encoding="utf-8"))
    everything = pinned([*build, *run, *ears, *test], kept + "\n".join(READY_MADE), "--generate-hashes")
    left = entries(everything)
    result = {}
    for name, requirements in (("build", build), ("run", run), ("ears", ears), ("test", test)):
        needed = entries(pinned(requirements, versions(everything)))
        result[name] = "".join(left.pop(pin) for pin in list(left) if pin in needed)
    if left:
        raise SystemExit(f"in no section: {', '.join(left)}")
    return result


if __name__ == "__main__":
    found = sections(upgrade="--upgrade" in sys.argv[1:])
    CONSTRAINTS.write_text(HEADER + "".join(f"\n# [{name}]\n{text}" for name, text in found.items()), encoding="utf-8")
