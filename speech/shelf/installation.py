"""A model comes onto the shelf: from a folder, a zip file or an address, whole and proved, or not at all."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote, urlsplit

from speech.errors import ModelBroken, ModelRefused, ShelfFailed
from speech.shelf import archive, download
from speech.shelf.archive import Parcel
from speech.shelf.model_probe import prove
from speech.shelf.model_store import FRESH, SHIPPED, ModelChoice, Shelf, failing, fault, size

DIGEST = re.compile(r"[0-9a-f]{64}")
SPARE_BYTES = 50 * 2**20
LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class Installed:
    """A model that is now in use: its checksum (of the zip file, or of the files of the folder) and what it takes."""

    language: str
    name: str
    path: Path
    size_bytes: int
    sha256: str
    memory_bytes: int | None


@dataclass(frozen=True, slots=True)
class _Source:
    """A folder or a zip file on this computer; ``told`` is what the person called it."""

    path: Path
    told: str
    spoil: Callable[[], None]


def install(
    shelf: Shelf,
    source: str,
    language: str | None = None,
    sha256: str | None = None,
    progress: download.Progress = lambda _done, _total: None,
    checked: Callable[[str], None] = lambda _digest: None,
) -> Installed:
    """Put a model on the shelf and use it; ``checked`` gets the checksum before anything is unpacked.

    Without ``language`` the name of the model says it. Raises ModelRefused, FetchFailed, ShelfFailed; whatever happens,
    the model in use before stays in use until the new one has been loaded.
    """
    if sha256 is not None and not DIGEST.fullmatch(sha256.lower()):
        raise ModelRefused(source, "a SHA-256 checksum is 64 characters, 0 to 9 and a to f")
    with shelf.at_work(), failing(shelf.folder), _at_hand(shelf, source, progress) as here:
        digest = archive.sealed(here.path)
        checked(digest)
        if sha256 is not None and digest != sha256.lower():
            here.spoil()
            raise ModelRefused(source, f"its checksum is {digest}, not the one that was given; nothing was installed")
        with _as_told(here):
            parcel = archive.looked_at(here.path)
        spoken = language or language_of(parcel.name, shelf.numbers) or language_of(_last(source), shelf.numbers)
        if spoken is None:
            raise ModelRefused(source, _which(shelf))
        _check_room(shelf, parcel)
        return _placed(shelf, here, parcel, spoken, digest)


def use(shelf: Shelf, place: str, language: str | None = None) -> ModelChoice:
    """Use the model that came along (``shipped``), an installed one by its name, or one that stands elsewhere.

    Raises ModelRefused, ShelfFailed.
    """
    path = Path(place).expanduser()
    spoken = language or language_of(path.resolve().name, shelf.numbers)
    if spoken is None:
        raise ModelRefused(place, _which(shelf))
    named = shelf.named(spoken, place)
    folder = shelf.shipped / spoken if place == SHIPPED else named or path.absolute()
    if place == SHIPPED and not folder.is_dir():
        raise ModelRefused(place, f"no model for {spoken!r} came with this program")
    try:
        memory = _proved(shelf, folder, spoken, place)
    except ModelBroken as error:
        raise ModelRefused(place, _broken(error)) from error
    known = SHIPPED if place == SHIPPED else f"installed/{place}" if named else str(folder)
    choice = ModelChoice(known, memory)
    shelf.choose(spoken, choice)
    return choice


def language_of(name: str, known: Collection[str]) -> str | None:
    """Which of the ``known`` languages the name of a model has in it, such as ``en`` in ``model-en-us-2``."""
    found = {part for part in re.split(r"[^a-z]+", name.lower()) if part in known}
    return found.pop() if len(found) == 1 else None


def _which(shelf: Shelf) -> str:
    given = " or ".join(f"--language {language}" for language in shelf.numbers)
    return f"its name does not say the language; give {given}"


def computer_bytes() -> int:
    """The memory of this computer."""
    return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")


@contextmanager
def _at_hand(shelf: Shelf, source: str, progress: download.Progress) -> Iterator[_Source]:
    """The source as something on this disk; a download is dropped when it is installed or no good."""
    if "://" in source:
        if urlsplit(source).scheme not in ("http", "https"):
            raise ModelRefused(source, "an address begins with https:// or http://")
        partial = download.fetch(source, shelf.fetched, progress)
        yield _Source(partial.path, source, partial.drop)
        partial.drop()
        return
    path = Path(source).expanduser()
    if not path.is_dir() and not path.is_file():
        raise ModelRefused(source, "there is no such folder or file")
    yield _Source(path, source, lambda: None)


@contextmanager
def _as_told(here: _Source) -> Iterator[None]:
    """What is wrong with the source itself is said of what the person called it; a download of it is dropped."""
    try:
        yield
    except ModelRefused as error:
        here.spoil()
        raise ModelRefused(here.told, error.why) from None


def _placed(shelf: Shelf, here: _Source, parcel: Parcel, language: str, digest: str) -> Installed:
    """Unpack beside the place, prove, rename, use: in this order."""
    called = re.sub(r"[^A-Za-z0-9._]+", "-", parcel.name or Path(_last(here.told)).stem)[:LONGEST_NAME].strip("-.")
    called = called.removeprefix(f"{language}-")
    name = f"{language}-{called}-{digest[:8]}"
    fresh = shelf.installed / f"{FRESH}{os.getpid()}"
    try:
        with _as_told(here):
            archive.unpack(here.path, parcel, fresh)
        memory = _proved(shelf, fresh, language, here.told)
        path = shelf.place(fresh, name)
    except ModelBroken as error:
        here.spoil()
        raise ModelRefused(here.told, _broken(error)) from error
    finally:
        shutil.rmtree(fresh, ignore_errors=True)
    shelf.choose(language, ModelChoice(f"installed/{name}", memory))
    return Installed(language, name, path, size(path), digest, memory)


def _broken(error: ModelBroken) -> str:
    return f"vosk cannot use it: {error.why}"


def _proved(shelf: Shelf, folder: Path, language: str, told: str) -> int | None:
    """The memory a model takes. Raises ModelBroken, or ModelRefused for one that is only not for here."""
    wrong = fault(folder)
    if wrong:
        raise ModelBroken(folder, wrong)
    bytes_, there = size(folder), computer_bytes()
    if bytes_ > there:
        raise ModelRefused(told, f"it is {bytes_ / 1e9:.1f} GB and this computer has {there / 1e9:.1f} GB of memory")
    proof = prove(folder, language, shelf.numbers[language])
    if not proof.speaks:
        raise ModelRefused(told, f"it knows no number words of {language!r}: is it a model of another language?")
    return proof.memory_bytes


def _check_room(shelf: Shelf, parcel: Parcel) -> None:
    free = shutil.disk_usage(shelf.installed).free
    if parcel.size_bytes + SPARE_BYTES > free:
        wanted = f"{parcel.size_bytes / 1e6:.0f} MB"
        raise ShelfFailed(shelf.folder, f"unpacked the model takes {wanted} and the disk has {free / 1e6:.0f} MB left")


def _last(source: str) -> str:
    return unquote(urlsplit(source).path if "://" in source else source).rstrip("/").rpartition("/")[2]
