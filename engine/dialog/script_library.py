"""The library: every dialog file of a directory, checked before anything is asked from it, each under its hash."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cached_property, lru_cache
from pathlib import Path

from engine.data.definitions import Definition, dialogs_directory, parse_definition, read_definition
from engine.data.gathering import gather, is_told_apart, languages_here
from engine.data.languages import languages_of
from engine.dialog.checks.check import Draft, check
from engine.dialog.facts.register import kinds
from engine.dialog.schema.script import Script
from engine.dialog.schema.script_formats import brought_up
from engine.dialog.schema.slot_roles import Phase, Role
from engine.errors import DefinitionError

_NOT_DIALOGS = ("sources.yaml", "units.yaml")
_OF_LANGUAGE = ("forms.yaml", "units.yaml", "vocabulary.yaml")


@dataclass(frozen=True)
class Library:
    """The current scripts and their hashes by dialog name; ``sources`` and ``pinned`` scripts by hash.

    A conversation that began under an older script goes on under it: ``with_pinned`` brings it back from its source.
    """

    scripts: Mapping[str, Script]
    hashes: Mapping[str, str]
    sources: Mapping[str, str]
    pinned: Mapping[str, Script] = field(default_factory=dict)

    @property
    def units(self) -> tuple[str, ...]:
        """The units in which any current dialog asks for something."""
        return tuple(dict.fromkeys(unit for script in self.scripts.values() for unit in script.units))

    def script(self, sha256: str) -> Script | None:
        """The script with this hash, current or pinned."""
        return self._by_hash.get(sha256)

    @cached_property
    def _by_hash(self) -> Mapping[str, Script]:
        return {**self.pinned, **{self.hashes[dialog]: script for dialog, script in self.scripts.items()}}

    @cached_property
    def in_order(self) -> tuple[Script, ...]:
        """The current scripts, each behind the one it comes after."""
        return tuple(sorted(self.scripts.values(), key=self._depth))

    def of_phase(self, phase: Phase) -> Script | None:
        """The first of the current scripts that is for this; None where none is."""
        return next((script for script in self.in_order if script.phase is phase), None)

    def _depth(self, script: Script) -> int:
        before = self.scripts.get(script.after) if script.after else None
        return 1 + self._depth(before) if before else 0

    @cached_property
    def kinds(self) -> Mapping[Role, frozenset[Role]]:
        """The kinds of things that are known by name, and what is kept of each."""
        return kinds(self.scripts.values())

    def with_pinned(self, source: str) -> Library:
        """With an older script under its hash; DefinitionError where the source no longer fits the schema."""
        sha256 = source_hash(source)
        script = parse_script(source, f"{sha256[:12]}.yaml")
        return replace(self, sources={**self.sources, sha256: source}, pinned={**self.pinned, sha256: script})


def source_hash(source: str) -> str:
    """The SHA-256 of a dialog's source text as UTF-8, in hex."""
    return hashlib.sha256(source.encode("utf-8")).hexdigest()


def parse_script(source: str, file: str) -> Script:
    """The script of a stored source; whether its parts fit each other is told by ``problems``. It may be older than a
    language that there is now."""
    return brought_up(parse_definition(source, file, ())).into(Script)


def load_library(directory: Path | None = None) -> Library:
    """Every dialog of a directory, by default the one beside the package; the first problem is raised.

    Files that are as they were when they were read last are not read again.
    """
    place = directory or dialogs_directory()
    return _loaded(place, tuple(map(_stamp, sorted(place.rglob("*.yaml")))))


def _stamp(path: Path) -> tuple[Path, int, int]:
    found = path.stat()
    return path, found.st_mtime_ns, found.st_size


@lru_cache(maxsize=4)
def _loaded(directory: Path, _files: tuple[tuple[Path, int, int], ...]) -> Library:
    drafts, found = _look(directory)
    if found:
        raise found[0]
    return Library(
        scripts={draft.script.dialog: draft.script for draft in drafts},
        hashes={draft.script.dialog: source_hash(draft.definition.source) for draft in drafts},
        sources={source_hash(draft.definition.source): draft.definition.source for draft in drafts},
    )


def problems(directory: Path | None = None) -> tuple[DefinitionError, ...]:
    """All that is wrong with the dialogs of a directory, file by file."""
    return _look(directory or dialogs_directory())[1]


def _look(directory: Path) -> tuple[tuple[Draft, ...], tuple[DefinitionError, ...]]:
    paths = sorted(path for path in directory.glob("*.yaml") if path.name not in _NOT_DIALOGS)
    if not paths:
        return (), (DefinitionError(directory.name, "whole directory", "holds no dialogs", "name another directory"),)
    drafts: list[Draft] = []
    found: list[DefinitionError] = []
    broken: set[str] = set()
    for path in paths:
        name = path.stem
        try:
            definition = brought_up(whole(path))
            name = _dialog_name(definition) or name
            drafts.append(Draft(definition, definition.into(Script)))
        except DefinitionError as error:
            found.append(error)
            broken.add(name)
    found += _spare(directory, frozenset(path.name for path in paths))
    return tuple(drafts), (*found, *check(drafts, frozenset(broken)))


def _spare(directory: Path, dialogs: frozenset[str]) -> Iterator[DefinitionError]:
    """Texts of dialogs that are not there."""
    for code in languages_of(directory):
        for path in sorted((directory / code).glob("*.yaml")):
            if path.name not in dialogs and path.name not in _OF_LANGUAGE and not _is_catalogue(path):
                near = get_close_matches(path.name, dialogs, 1)
                mend = f"call it {near[0]}" if near else "remove it, or write the dialog"
                yield DefinitionError(f"{code}/{path.name}", "whole file", "there is no dialog of this name", mend)


def _is_catalogue(path: Path) -> bool:
    """Whether a file holds texts by key, which no dialog says."""
    try:
        content = read_definition(path).content
    except DefinitionError:
        return True
    return isinstance(content, dict) and "texts" in content


def whole(path: Path) -> Definition:
    """A dialog with the texts of every language in their places. Its source is both together: that is what a
    conversation is pinned to, so that it keeps the words it began with."""
    written, directory = read_definition(path), path.parent
    languages = languages_here(directory)
    apart = is_told_apart(written) or any((directory / code / path.name).exists() for code in languages)
    return gather(directory, path.name, written, told=True) if apart else replace(written, languages=languages)


def _dialog_name(definition: Definition) -> str:
    content = definition.content
    return str(content.get("dialog")) if isinstance(content, dict) else ""
