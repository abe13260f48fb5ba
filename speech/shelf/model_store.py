"""The shelf of speech models: which stand there for a language, and which one is in use.

A folder of models holds ``LANGUAGE/`` (a model put there by hand), ``installed/NAME/`` (those that were installed, each
complete from the moment it is there) and ``LANGUAGE.use`` (the choice: one of the installed, a folder elsewhere, or the
one that came with the program). Without a choice the model put there by hand goes before the one that came along; a
choice that is gone counts as none, so that a pulled-out stick leaves nobody deaf.
"""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import shutil
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from enum import StrEnum
from pathlib import Path

from speech import vosk
from speech.errors import ModelRefused, ShelfFailed

SHIPPED = "shipped"
FRESH = ".new-"


class Origin(StrEnum):
    """How a model came to where it stands."""

    SHIPPED = "shipped"
    PLACED = "placed"
    INSTALLED = "installed"
    ELSEWHERE = "elsewhere"


@dataclass(frozen=True, slots=True)
class ModelChoice:
    """What a person chose: a path, relative to the shelf where it stands on it, or ``shipped``; and what was measured
    when it was loaded to see whether it works: the peak memory of a process that hears with it."""

    model: str
    memory_bytes: int | None = None


@dataclass(frozen=True, slots=True)
class ModelStatus:
    """One model: ``fault`` says why it cannot be used, as far as its files tell without loading it."""

    name: str
    origin: Origin
    path: Path
    in_use: bool
    size_bytes: int
    memory_bytes: int | None
    fault: str | None


@dataclass(frozen=True, slots=True)
class Shelf:
    """``folder`` is the person's own, made where it is missing; ``shipped`` the program's, never written. ``numbers``
    are number words of every language, of which a new model must know some."""

    folder: Path
    shipped: Path
    numbers: Mapping[str, Sequence[str]] = field(default_factory=dict)

    def models(self, language: str) -> Iterator[Path]:
        """The models of a language that can be used, the one in use first."""
        places = (self._chosen(language), self.folder / language, self.shipped / language)
        return (place for place in dict.fromkeys(places) if place is not None and vosk.is_model(place))

    def choice(self, language: str) -> ModelChoice | None:
        """What was chosen; a choice that cannot be read counts as none."""
        try:
            return ModelChoice(**json.loads(self._choice(language).read_text(encoding="utf-8")))
        except (OSError, ValueError, TypeError):
            return None

    def choose(self, language: str, choice: ModelChoice) -> None:
        """Keep a choice, in one step. Raises ModelRefused where nothing came along, ShelfFailed."""
        if choice.model == SHIPPED and not vosk.is_model(self.shipped / language):
            raise ModelRefused(SHIPPED, f"no model for {language!r} came with this program")
        with failing(self.folder):
            self.folder.mkdir(parents=True, exist_ok=True)
            write(self._choice(language), json.dumps(asdict(choice)).encode())

    def place(self, fresh: Path, name: str) -> Path:
        """Move a complete model from beside the installed ones to its name, in one step; the same name is the same."""
        target = self.installed / name
        if target.exists():
            shutil.rmtree(fresh)
        else:
            fresh.rename(target)
            settle(self.installed)
        return target

    def standings(self, language: str) -> tuple[ModelStatus, ...]:
        """Every model of a language, those that cannot be used with their fault."""
        choice = self.choice(language)
        used = next(self.models(language), None)
        memory = choice.memory_bytes if choice else None
        chosen = self._chosen(language)
        return tuple(
            ModelStatus(
                name,
                origin,
                path,
                in_use=used is not None and path == used,
                size_bytes=size(path),
                memory_bytes=memory if path == chosen else None,
                fault=fault(path),
            )
            for name, origin, path in self._places(language)
        )

    def named(self, language: str, name: str) -> Path | None:
        """The installed model of that name."""
        path = self.installed / name
        return path if name == Path(name).name and name.startswith(f"{language}-") and path.is_dir() else None

    @property
    def installed(self) -> Path:
        return self.folder / "installed"

    @property
    def fetched(self) -> Path:
        """Where unfinished downloads are kept."""
        return self.folder / "partial"

    @contextlib.contextmanager
    def at_work(self) -> Iterator[None]:
        """Only one process changes a shelf at a time; what a killed one left half done is cleared away first."""
        with failing(self.folder):
            self.installed.mkdir(parents=True, exist_ok=True)
            lock = (self.folder / ".lock").open("w")
        with lock:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                raise ShelfFailed(self.folder, "another process is installing there; wait for it") from None
            for left in self.installed.glob(f"{FRESH}*"):
                shutil.rmtree(left, ignore_errors=True)
            yield

    def _choice(self, language: str) -> Path:
        return self.folder / f"{language}.use"

    def _chosen(self, language: str) -> Path | None:
        choice = self.choice(language)
        if choice is None:
            return None
        return self.shipped / language if choice.model == SHIPPED else self.folder / choice.model

    def _places(self, language: str) -> Iterator[tuple[str, Origin, Path]]:
        """Name, origin and path of whatever is there, and of a choice that is gone."""
        own, came = self.folder / language, self.shipped / language
        kept = sorted(self.installed.glob(f"{language}-*"))
        chosen = self._chosen(language)
        if came.is_dir():
            yield SHIPPED, Origin.SHIPPED, came
        if own.is_dir():
            yield language, Origin.PLACED, own
        for path in kept:
            yield path.name, Origin.INSTALLED, path
        if chosen is not None and chosen not in (own, came, *kept):
            yield chosen.name, Origin.ELSEWHERE, chosen


def fault(folder: Path) -> str | None:
    """What a model folder lacks, by its files alone; None where it looks whole."""
    if not folder.is_dir():
        return "it is not there"
    if not vosk.is_model(folder):
        return "there is no final.mdl in it"
    newer = (folder / "am" / "final.mdl").is_file()
    graph, settings = (folder / "graph", folder / "conf" / "mfcc.conf") if newer else (folder, folder / "mfcc.conf")
    wanted = [folder / "am" / "final.mdl" if newer else folder / "final.mdl", settings]
    fixed = graph / "HCLG.fst"
    wanted += [fixed] if fixed.exists() else [graph / "HCLr.fst", graph / "Gr.fst"]
    lacking = [path.relative_to(folder).as_posix() for path in wanted if not path.is_file() or not path.stat().st_size]
    return f"{lacking[0]} is missing or empty" if lacking else None


def size(folder: Path) -> int:
    """Bytes of all files of a folder."""
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())


def write(path: Path, content: bytes) -> None:
    """Write a small file so that it is there whole or not at all."""
    fresh = path.with_name(f"{path.name}.new")
    with fresh.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    fresh.replace(path)
    settle(path.parent)


def settle(folder: Path) -> None:
    """Wait until the names in a folder are on the disk."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextlib.contextmanager
def failing(folder: Path) -> Iterator[None]:
    """What the disk refuses, as one sentence."""
    try:
        yield
    except OSError as error:
        place = f" ({error.filename})" if error.filename not in (None, str(folder), folder) else ""
        raise ShelfFailed(folder, f"{error.strerror or error}{place}") from error
