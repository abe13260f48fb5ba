"""A file that appears whole or not at all, readable by its owner alone: records hold names and chats."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from engine.errors import InputError, WorldError

PART = ".part"
"""The end of the name of a file that is not whole yet."""


@contextmanager
def new_file(path: Path) -> Iterator[Path]:
    """Gives an empty file beside ``path`` to write into; what it holds is at ``path`` once the block has ended well.

    Raises InputError where something is there already, WorldError where it cannot be written.
    """
    if path.exists():
        raise taken(path)
    with part_of(path) as part:
        yield part
        with writing(path):
            on_disk(part)
            _put(part, path)
            on_disk(path.parent)


@contextmanager
def part_of(path: Path) -> Iterator[Path]:
    """Gives an empty file beside ``path``, which is gone after the block; its folder is made where it is missing."""
    with writing(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(PART, f".{path.name}.", path.parent)
        os.close(handle)
    part = Path(name)
    try:
        yield part
    finally:
        part.unlink(missing_ok=True)


@contextmanager
def writing(path: Path) -> Iterator[None]:
    """Trouble with the disk becomes a sentence about ``path``: WorldError."""
    try:
        yield
    except OSError as error:
        raise WorldError(f"{path} cannot be written: {error.strerror or type(error).__name__}") from error


def taken(path: Path) -> InputError:
    return InputError(f"{path} is there already: choose another name")


def on_disk(path: Path) -> None:
    """Wait until a file or a folder is on the disk, as far as the file system promises that."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _put(part: Path, path: Path) -> None:
    """Give the whole file its name, which nobody else has taken meanwhile."""
    try:
        path.hardlink_to(part)
    except FileExistsError as error:
        raise taken(path) from error
    except OSError:  # a file system without links, such as that of many memory sticks
        part.replace(path)
