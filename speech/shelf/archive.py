"""A speech model out of a zip file or a folder, taken with care: nothing lands outside, nothing grows without bound.

A zip file is judged by its list of names before anything is written: no absolute path, no step upwards, no link, no
secret, no name twice, a bounded number of files, size and growth, and exactly one Vosk model in it, which alone is
unpacked. The checksum of each file is compared while it is written.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import stat
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path, PurePosixPath
from typing import IO, TypeVar

from speech import vosk
from speech.errors import ModelRefused
from speech.shelf.model_store import settle

LARGEST_BYTES = 8 * 2**30
MOST_FILES = 10_000
MOST_GROWTH = 50
SMALL_BYTES = 2**20
"""The growth of an archive is not judged below this size."""
LONGEST_NAME = 200
PIECE = 2**20
PLAIN = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
ACOUSTIC = "final.mdl"
Place = TypeVar("Place", Path, PurePosixPath)


@dataclass(frozen=True, slots=True)
class Parcel:
    """A model that can be taken: its name where it has a folder of its own, its size, its files by their place."""

    name: str
    size_bytes: int
    files: dict[str, str]


def sealed(path: Path) -> str:
    """SHA-256 of a file, or of a folder: of the places and checksums of its files, in order of their places."""
    if path.is_dir():
        lines = (f"{sealed(file)}  {place}\n" for place, file in sorted(_inside(path).items()))
        return hashlib.sha256("".join(lines).encode(errors="surrogateescape")).hexdigest()
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def looked_at(path: Path) -> Parcel:
    """The one model in a folder or zip file. Raises ModelRefused."""
    return _looked_at_folder(path) if path.is_dir() else _looked_at_zip(path)


def unpack(path: Path, parcel: Parcel, target: Path) -> None:
    """Write a parcel into a new folder and wait until it is on the disk. Raises ModelRefused, OSError."""
    target.mkdir()
    if path.is_dir():
        for place, name in parcel.files.items():
            with Path(name).open("rb") as source:
                _write(source, target / place)
    else:
        with _readable(path) as archive:
            for place, name in parcel.files.items():
                with archive.open(name) as source:
                    _write(source, target / place)
    for folder in (target, *(found for found in target.rglob("*") if found.is_dir())):
        settle(folder)


def _write(source: IO[bytes], target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    with target.open("xb") as file:
        shutil.copyfileobj(source, file, PIECE)
        file.flush()
        os.fsync(file.fileno())


def _looked_at_folder(path: Path) -> Parcel:
    root = path if vosk.is_model(path) else _only(path, [child for child in path.iterdir() if vosk.is_model(child)])
    files = _inside(root)
    size = sum(file.stat().st_size for file in files.values())
    if size > LARGEST_BYTES:
        raise ModelRefused(str(path), f"it is larger than {LARGEST_BYTES / 1e9:.1f} GB")
    return Parcel(root.resolve().name, size, {place: str(file) for place, file in files.items()})


def _inside(folder: Path) -> dict[str, Path]:
    """The files of a folder by their place in it."""
    every = (Path(at) / name for at, _, names in os.walk(folder, followlinks=True) for name in names)
    found = list(islice(every, MOST_FILES + 1))
    if len(found) > MOST_FILES:
        raise ModelRefused(str(folder), f"it holds more than {MOST_FILES} files")
    odd = next((file for file in found if not file.is_file()), None)
    if odd is not None:
        raise ModelRefused(str(folder), f"{odd.relative_to(folder)} is not a file that can be copied")
    return {file.relative_to(folder).as_posix(): file for file in found}


def _looked_at_zip(path: Path) -> Parcel:
    with _readable(path) as archive:
        members = archive.infolist()
    wrong = _wrong(members, path.stat().st_size)
    if wrong:
        raise ModelRefused(str(path), wrong)
    files = {PurePosixPath(member.filename): member for member in members if not member.is_dir()}
    root = _only(path, sorted(set(_roots(files))))
    inside = {place: member for place, member in files.items() if place.is_relative_to(root)}
    return Parcel(
        root.name,
        sum(member.file_size for member in inside.values()),
        {place.relative_to(root).as_posix(): member.filename for place, member in inside.items()},
    )


def _roots(places: Iterable[PurePosixPath]) -> Iterator[PurePosixPath]:
    for place in places:
        if place.name == ACOUSTIC:
            yield place.parent.parent if place.parent.name == "am" else place.parent


def _only(path: Path, roots: list[Place]) -> Place:
    match roots:
        case [root]:
            return root
        case []:
            raise ModelRefused(str(path), f"there is no Vosk model in it (no {ACOUSTIC})")
        case _:
            raise ModelRefused(str(path), f"there are {len(roots)} models in it; give the folder of one")


def _wrong(members: list[zipfile.ZipInfo], packed: int) -> str | None:
    """Why an archive is not to be unpacked."""
    if len(members) > MOST_FILES:
        return f"it holds more than {MOST_FILES} files"
    size = sum(member.file_size for member in members)
    if size > LARGEST_BYTES:
        return f"it would unpack to {size / 1e9:.1f} GB, more than {LARGEST_BYTES / 1e9:.1f} GB"
    if size > SMALL_BYTES and size > MOST_GROWTH * packed:
        return f"it would grow to {size / max(packed, 1):.0f} times its size: no honest model does"
    for member in members:
        wrong = _wrong_name(member.orig_filename) or _wrong_kind(member)
        if wrong:
            return f"{member.orig_filename[:LONGEST_NAME]!r} in it {wrong}"
    return _wrong_together([member for member in members if not member.is_dir()])


def _wrong_name(name: str) -> str | None:
    place = PurePosixPath(name)
    if place.is_absolute() or ".." in place.parts or "\\" in name or ":" in name:
        return "points outside of its folder"
    if not place.parts or not name.isprintable() or any(len(part) > LONGEST_NAME for part in place.parts):
        return "is no usable name"
    return None


def _wrong_kind(member: zipfile.ZipInfo) -> str | None:
    mode = member.external_attr >> 16
    kind = stat.S_IFMT(mode)
    if kind == stat.S_IFLNK:
        return "is a link"
    if kind and not (stat.S_ISREG(mode) or stat.S_ISDIR(mode)):
        return "is neither file nor folder"
    if member.flag_bits & 0x1:
        return "is locked with a password"
    return None if member.compress_type in PLAIN else "is packed in a way that is not read here"


def _wrong_together(files: list[zipfile.ZipInfo]) -> str | None:
    """Names that would fall on one another, also on a disk that does not tell case apart."""
    names = [PurePosixPath(member.filename.casefold()) for member in files]
    taken = set(names)
    if len(taken) < len(names):
        return "it holds a name twice"
    return "a file in it is also a folder" if any(taken & set(name.parents) for name in names) else None


@contextmanager
def _readable(path: Path) -> Iterator[zipfile.ZipFile]:
    try:
        with zipfile.ZipFile(path) as archive:
            yield archive
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        raise ModelRefused(str(path), f"the zip file is damaged or none ({error})") from error
