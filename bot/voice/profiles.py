"""The folder of voice profiles: a file for each person and language, for the user alone, never sent anywhere."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import yaml

from engine.data.definitions import read_definition
from engine.data.languages import LANGUAGES, Language
from engine.entries.phrases.tokens import fold
from engine.errors import DefinitionError, InputError, WorldError
from engine.voice_profile import NAME, ConfusionSource, VoiceProfile

SUFFIX = ".yaml"
LONGEST_SLUG = 60
LARGEST_BYTES = 128 * 1024
FILE_MODE, FOLDER_MODE = 0o600, 0o700
HEAD = (
    "# What this voice is heard for: said, heard, how often. Kept on this computer; rowhand voice forget removes it.\n"
)


class ProfileFailed(WorldError):
    """A profile could not be written or removed."""


@dataclass(frozen=True)
class Profiles:
    """All profiles of a folder. Reading raises DefinitionError where a file is no profile; a missing one is empty."""

    folder: Path

    def of(self, person: str, language: Language) -> VoiceProfile:
        """The profile of a person in a language; raises InputError for a name that no file can have."""
        file = self._file(person, language)
        try:
            size = file.lstat().st_size
        except (FileNotFoundError, NotADirectoryError):
            return VoiceProfile(person=person, language=language)
        except OSError as error:
            raise _refused(file, f"cannot be read: {error.strerror}") from error
        if not file.is_file() or file.is_symlink():
            raise _refused(file, "is not a plain file")
        if size > LARGEST_BYTES:
            raise _refused(file, f"is larger than {LARGEST_BYTES // 1024} KiB")
        found = _parsed(file)
        if (_slug(found.person), found.language) != (_slug(person), language):
            raise _refused(file, f"is the profile of {found.person} in {found.language}")
        return found

    def all(self) -> tuple[VoiceProfile, ...]:
        """Every profile there is, by name and language."""
        if not self.folder.is_dir():
            return ()
        names = sorted(path.name.removesuffix(SUFFIX) for path in self.folder.glob(f"*{SUFFIX}"))
        parts = [name.rpartition(".") for name in names]
        named = ((person, language) for person, _, language in parts if NAME.fullmatch(person))
        return tuple(self.of(person, language) for person, language in named if language in LANGUAGES)

    def add(
        self, person: str, language: Language, pairs: Iterable[tuple[str, str]], shown: ConfusionSource
    ) -> VoiceProfile:
        """Count these pairs (said, heard) in a profile and keep it."""
        old = self.of(person, language)
        return self._kept(old, old.with_pairs(pairs, shown))

    def correct(
        self, person: str, language: Language, pairs: Iterable[tuple[str, str]], utterance: str
    ) -> VoiceProfile:
        """Count what the turn of an utterance corrected, once, and keep it."""
        old = self.of(person, language)
        return self._kept(old, old.with_corrections(pairs, utterance))

    def _kept(self, old: VoiceProfile, new: VoiceProfile) -> VoiceProfile:
        if new != old:
            self._write(self._file(old.person, old.language), new)
        return new

    def forget(self, person: str, language: Language | None = None) -> int:
        """Remove the profile of a person in a language, or in all; how many were removed. Nothing of it is read."""
        removed = 0
        for one in (language,) if language else LANGUAGES:
            try:
                self._file(person, one).unlink()
                removed += 1
            except (FileNotFoundError, NotADirectoryError):
                continue
            except OSError as error:
                raise ProfileFailed(f"the voice profile cannot be removed: {error.strerror}") from error
        return removed

    def _file(self, person: str, language: Language) -> Path:
        return self.folder / f"{_slug(person)}.{language}{SUFFIX}"

    def _write(self, file: Path, profile: VoiceProfile) -> None:
        """Beside its place first, then renamed: a kill leaves the old profile or the new one."""
        text = HEAD + yaml.safe_dump(profile.model_dump(mode="json"), allow_unicode=True, sort_keys=False)
        beside: Path | None = None
        try:
            self.folder.mkdir(mode=FOLDER_MODE, parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=self.folder, prefix=".profile-")
            beside = Path(name)
            with os.fdopen(handle, "w", encoding="utf-8") as made:
                os.fchmod(made.fileno(), FILE_MODE)
                made.write(text)
                made.flush()
                os.fsync(made.fileno())
            beside.replace(file)
        except OSError as error:
            if beside is not None:
                beside.unlink(missing_ok=True)
            raise ProfileFailed(f"the voice profile cannot be kept in {self.folder}: {error.strerror}") from error


def _parsed(file: Path) -> VoiceProfile:
    try:
        return read_definition(file).into(VoiceProfile)
    except RecursionError as error:
        raise _refused(file, "is nested too deeply") from error


def _refused(file: Path, wrong: str) -> DefinitionError:
    return DefinitionError(file.name, "whole file", wrong, "mend it, or remove it with rowhand voice forget")


def _slug(person: str) -> str:
    """The name as it stands in a file name: small letters without accents, never a path."""
    if not NAME.fullmatch(person):
        raise InputError(f"{person[:60]!r} cannot be the name of a voice: take letters and digits, 40 at most")
    return re.sub(r"[^\w.-]+", "_", fold(person).strip())[:LONGEST_SLUG]
