"""``python -m speech.training.pack OUT FOLDER...``: training speech in one file, small enough to carry about.

A folder is either one with a ``transcripts.tsv`` (columns file, set, speaker, text: human recordings) or one that
``speech.training.synthesise`` filled. The pack is a numpy archive: the files' bytes end to end, where each ends, and
its text, group and speaker, with how its words sound. Speakers named by ``--leave-out`` (one a line) stay out;
``--group`` puts all into one group of a name, to be drawn with a share of its own.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import soundfile

from speech.training.lexicon import in_spanish, lexicon


@dataclass(frozen=True, slots=True)
class PackedClip:
    file: Path
    group: str
    speaker: str
    text: str


def clips(folder: Path) -> Iterator[PackedClip]:
    """The clips of a folder of either kind."""
    table = folder / "transcripts.tsv"
    if table.exists():
        with table.open(encoding="utf-8", newline="") as lines:
            for row in csv.DictReader(lines, delimiter="\t"):
                yield PackedClip(folder / row["file"], row["set"], f"{row['set']}-{row['speaker']}", row["text"])
    for text in sorted(folder.glob("*_*.txt")):
        voice = text.stem.split("_")[0]
        yield PackedClip(text.with_suffix(".ogg"), voice, voice, text.read_text(encoding="utf-8"))


def by_telephone(sound: bytes) -> bytes:
    """A clip as a telephone gives it: 8 kHz, GSM's codec. Needs ffmpeg with libgsm."""
    quiet = ["ffmpeg", "-v", "error"]
    coded = _piped([*quiet, "-i", "-", "-ar", "8000", "-ac", "1", "-f", "gsm", "-"], sound)
    plain = _piped([*quiet, "-f", "gsm", "-i", "-", "-ar", "16000", "-f", "wav", "-"], coded)
    heard, rate = soundfile.read(io.BytesIO(plain))
    written = io.BytesIO()
    soundfile.write(written, heard, rate, format="OGG", subtype="OPUS")
    return written.getvalue()


def _piped(command: list[str], data: bytes) -> bytes:
    return subprocess.run(command, input=data, check=True, capture_output=True).stdout


def pack(
    found: list[PackedClip], out: Path, language: str = "en", for_spanish: bool = False, telephone: bool = False
) -> None:
    known = lexicon((word for clip in found for word in clip.text.split()), language)
    sounds = [by_telephone(clip.file.read_bytes()) if telephone else clip.file.read_bytes() for clip in found]
    np.savez(
        out,
        sound=np.frombuffer(b"".join(sounds), dtype=np.uint8),
        lexicon=json.dumps({word: in_spanish(ways) for word, ways in known.items()} if for_spanish else known),
        ends=np.cumsum([len(sound) for sound in sounds]),
        group=np.array([clip.group for clip in found]),
        speaker=np.array([clip.speaker for clip in found]),
        text=np.array([clip.text for clip in found]),
    )


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("out", type=Path)
    arguments.add_argument("folders", type=Path, nargs="+")
    arguments.add_argument("--leave-out", type=Path)
    arguments.add_argument("--group")
    arguments.add_argument("--language", choices=["en", "es", "it"], default="en")
    arguments.add_argument("--for-spanish", action="store_true", help="English clips, in the phones of Spanish")
    arguments.add_argument("--telephone", action="store_true", help="every clip as a telephone gives it")
    arguments.add_argument("--most", type=int, help="so many clips, at even steps")
    given = arguments.parse_args()
    out_of_it = set(given.leave_out.read_text(encoding="utf-8").split()) if given.leave_out else set()
    found = [clip for folder in given.folders for clip in clips(folder) if clip.speaker not in out_of_it]
    found = found[:: max(len(found) // given.most, 1)][: given.most] if given.most else found
    chosen = [replace(clip, group=given.group) for clip in found] if given.group else found
    pack(chosen, given.out, given.language, given.for_spanish, given.telephone)
    size = given.out.stat().st_size / 2**20
    print(f"{len(found)} clips, {len({clip.speaker for clip in found})} speakers, {size:.1f} MiB")


if __name__ == "__main__":
    main()
