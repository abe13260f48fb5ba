"""Development sets: which clips, and what may be said in each."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from speech.training import phrases

DIGITS = "(zero | oh | one | two | three | four | five | six | seven | eight | nine)"
_SMALL = " | ".join(phrases.rules()["nz"])
_TEENS = " | ".join(phrases.rules()["teen"])
_TENS = " | ".join(phrases.rules()["tens"])
_SUB = f"({_SMALL} | {_TEENS} | ({_TENS}) [{_SMALL}])"
GRAMMARS = {
    "an4": (
        f"public <say> = [enter] ({_SMALL} | zero | oh | {_TEENS} | {_TENS} | hundred | thousand | and)+ "
        "| yes | no | start | go | stop | help | repeat | enter | erase | rubout;"
    ),
    "fsdd": f"public <say> = {DIGITS}+;",
    "ast": f"public <say> = ({_SUB} | ({_SMALL}) hundred [[and] {_SUB}]) [seconds | minutes];",
    "gsc": "public <say> = yes | no | stop | repeat | help | scratch that | go back | cancel | skip | done;",
}
NUMBERS = {"zero", *phrases.rules()["nz"]}
SYNTHETIC = "synthetic"
CHATTER = "oov"
WORDS = "words"
TOLD = "told"


@dataclass(frozen=True, slots=True)
class SetClip:
    file: Path
    group: str
    speaker: str
    text: str


def grammar(group: str, language: str = phrases.ENGLISH) -> str:
    """The JSGF text of a set's state; chatter is heard with that of a catch, single words with commands beside it."""
    if group == WORDS:
        return phrases.jsgf("state_of_words", language)
    if group == TOLD:
        return phrases.jsgf("shift", language)
    if group in GRAMMARS:
        return f"#JSGF V1.0; grammar {group}; {GRAMMARS[group]}"
    return phrases.jsgf("trial", language)


def recorded(folder: Path, only: Mapping[str, frozenset[str]]) -> list[SetClip]:
    """Clips of a ``transcripts.tsv``; ``only`` restricts a set to some speakers."""
    with (folder / "transcripts.tsv").open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines, delimiter="\t"))
    clips = [SetClip(folder / row["file"], row["set"], row["speaker"], row["text"]) for row in rows]
    others = (clip for clip in clips if clip.group != CHATTER or not _named(clip.file) & NUMBERS)
    return [clip for clip in others if clip.group not in only or clip.speaker in only[clip.group]]


def _named(file: Path) -> set[str]:
    """The words in a file's name: chatter is labelled ``_unknown_``, and some of it is digits all the same."""
    return set(file.name.split("_"))


def spoken(folder: Path, group: str = SYNTHETIC) -> list[SetClip]:
    """Clips that ``speech.training.synthesise --held-out`` made."""
    files = sorted(folder.glob("*_*.txt"))
    return [SetClip(file.with_suffix(".ogg"), group, file.stem.split("_")[0], file.read_text()) for file in files]


def meant(text: str) -> str:
    """What scoring compares: the words, less an "and" that adds nothing to a number, and nought said one way."""
    words = text.replace("nought", "zero").replace("oh", "zero").split()
    pairs = zip(["", *words], words, strict=False)
    return " ".join(word for before, word in pairs if word != "and" or before not in ("hundred", "thousand"))


def left_out(file: Path) -> dict[str, frozenset[str]]:
    """Speakers by set from a list of ``set-speaker`` lines."""
    pairs = [line.split("-", 1) for line in file.read_text().split()]
    return {group: frozenset(speaker for name, speaker in pairs if name == group) for group, _ in pairs}
