"""Recordings with what was said in them: any folder with a ``transcripts.tsv``.

Its columns are ``file``, ``set``, ``text``, ``kind`` and ``speaker``, separated by tabs, files relative to the folder.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from engine.errors import InputError

TABLE = "transcripts.tsv"
COLUMNS = ("file", "set", "text")
UNKNOWN_TEXT = "?"
REJECTED = "out of grammar"
NOT_WORDS = ("_unknown_", "_silence_")
DIGITS = frozenset("zero one two three four five six seven eight nine".split())  # noqa: SIM905


@dataclass(frozen=True, slots=True)
class Recording:
    """One clip; ``chatter`` says that nothing in it is meant for Rowhand."""

    file: Path
    group: str
    text: str
    speaker: str
    chatter: bool


def recordings(folder: Path) -> tuple[Recording, ...]:
    """All clips of a folder whose words are known, in the order of its table.

    Chatter whose file name says a digit is left out: somebody said a number. Raises InputError without such a table.
    """
    try:
        with (folder / TABLE).open(encoding="utf-8", newline="") as lines:
            rows = list(csv.DictReader(lines, delimiter="\t"))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise InputError(f"there is no {TABLE} to read in {folder}") from error
    if any(not row.get(column) for row in rows for column in COLUMNS):
        raise InputError(f"{folder / TABLE}: each line needs {', '.join(COLUMNS)}, separated by tabs")
    clips = (_recording(folder, row) for row in rows if row["text"] != UNKNOWN_TEXT)
    return tuple(clip for clip in clips if not (clip.chatter and DIGITS & set(clip.file.name.split("_"))))


def _recording(folder: Path, row: Mapping[str, str]) -> Recording:
    rejected = (row.get("kind") or "").startswith(REJECTED) or row["text"] in NOT_WORDS
    return Recording(folder / row["file"], row["set"], row["text"], row.get("speaker") or "", rejected)


def by_set(clips: Iterable[Recording]) -> dict[str, list[Recording]]:
    """The clips of each set, sets in the order in which they appear."""
    sets: dict[str, list[Recording]] = {}
    for clip in clips:
        sets.setdefault(clip.group, []).append(clip)
    return sets
