"""Definition files: YAML read so that nothing in it is guessed, every value with its place.

Every scalar arrives as the text that was written (`no` is the word no, `12:30` is not a number); the schema of the
file decides what it means. A key written twice, a tab, an alias or a tag is refused.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path
from typing import Any, TypeVar

import yaml
from pydantic import BaseModel, ValidationError

from engine.data.languages import LANGUAGES
from engine.data.languages import dialogs_directory as dialogs_directory
from engine.errors import DefinitionError

Plain = str | list["Plain"] | dict[str, "Plain"]
Place = tuple[str | int, ...]
Model = TypeVar("Model", bound=BaseModel)
LOADER: Any = yaml.CBaseLoader if yaml.__with_libyaml__ else yaml.BaseLoader
"""Reads YAML as text: in C where PyYAML brings libyaml, which takes a quarter of the time."""


class PlacedError(ValueError):
    """Raised by a schema that looks at parts of a file together: what is wrong, the place, how to mend it if known."""

    def __init__(self, place: Place, wrong: str, mend: str = "") -> None:
        super().__init__(wrong)
        self.place = place
        self.mend = mend


@dataclass(frozen=True)
class Definition:
    """One parsed file: its plain content, the line of every place in it, and the ``languages`` its texts must have."""

    file: str
    source: str
    content: Plain
    lines: dict[Place, int]
    languages: tuple[str, ...] = LANGUAGES

    def line(self, place: Place) -> int:
        """The line of a place, or of the nearest one around it."""
        while place not in self.lines and place:
            place = place[:-1]
        return self.lines.get(place, 1)

    def error(self, place: Place, wrong: str, mend: str) -> DefinitionError:
        """A DefinitionError that points at ``place``."""
        where = ".".join(str(part) for part in place) or "whole file"
        return DefinitionError(self.file, f"line {self.line(place)}, {where}", wrong, mend)

    def into(self, model: type[Model]) -> Model:
        """The content under a schema; DefinitionError names the first place that does not fit."""
        try:
            return model.model_validate(self.content, context={"languages": self.languages})
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            wrong = first["msg"].removeprefix("Value error, ")
            if first["type"] in ("missing", "extra_forbidden"):
                wrong = f"{first['loc'][-1]}: {wrong}"
            cause = first.get("ctx", {}).get("error")
            inner, mend = (cause.place, cause.mend) if isinstance(cause, PlacedError) else ((), "")
            raise self.error(self._place((*first["loc"], *inner)), wrong, mend or _mend(first["type"])) from error

    def _place(self, loc: Place) -> Place:
        """The part of a pydantic location that stands in the file; names of union members drop out."""
        place: Place = ()
        for part in loc:
            if self._stands((*place, part)):
                place = (*place, part)
        return place

    def _stands(self, place: Place) -> bool:
        return place in self.lines or place[-1] in self.languages


def read_definition(path: Path, name: str = "") -> Definition:
    """Read a definition file, called ``name`` in messages; DefinitionError if it is missing or is not YAML of the kind
    described above."""
    file = name or path.name
    try:
        source = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise DefinitionError(file, "whole file", f"cannot be read: {error}", "check name and rights") from error
    return parse_definition(source, file)


def parse_definition(source: str, file: str, languages: tuple[str, ...] = LANGUAGES) -> Definition:
    """Parse the text of a definition file that is called ``file`` in messages; its texts need all ``languages``."""
    lines: dict[Place, int] = {}
    try:
        content = _document(yaml.parse(source, Loader=LOADER), lines, file)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = mark.line + 1 if mark else 1
        problem = getattr(error, "problem", None) or "is not YAML"
        raise DefinitionError(file, f"line {line}", problem, "quote the text or mend the indent") from error
    return Definition(file, source, content, lines, languages)


def _document(events: Iterator[Any], lines: dict[Place, int], file: str) -> Plain:
    """The one document of a file, read in one pass."""
    inside = (event for event in events if not isinstance(event, yaml.StreamStartEvent | yaml.DocumentStartEvent))
    first = next(inside)
    if isinstance(first, yaml.StreamEndEvent):
        raise DefinitionError(file, "line 1", "the file is empty", "write the definition")
    content = _plain(first, inside, (), lines, file)
    for after in inside:
        if not isinstance(after, yaml.DocumentEndEvent | yaml.StreamEndEvent):
            line = after.start_mark.line + 1
            raise DefinitionError(file, f"line {line}", "a second document begins here", "keep one to a file")
    return content


def _plain(event: Any, events: Iterator[Any], place: Place, lines: dict[Place, int], file: str) -> Plain:
    """What begins with this event, its lines noted; ``events`` go on behind it."""
    if isinstance(event, yaml.AliasEvent) or event.tag is not None:
        raise DefinitionError(file, "whole file", "aliases and tags are not used here", "write the value out")
    lines[place] = event.start_mark.line + 1
    if isinstance(event, yaml.MappingStartEvent):
        return _mapping(events, place, lines, file)
    if isinstance(event, yaml.SequenceStartEvent):
        inside = takewhile(lambda one: not isinstance(one, yaml.SequenceEndEvent), events)
        return [_plain(item, events, (*place, number), lines, file) for number, item in enumerate(inside)]
    return str(event.value)


def _mapping(events: Iterator[Any], place: Place, lines: dict[Place, int], file: str) -> Plain:
    found: dict[str, Plain] = {}
    for key_event in takewhile(lambda one: not isinstance(one, yaml.MappingEndEvent), events):
        line = key_event.start_mark.line + 1
        key = str(_plain(key_event, events, (), {}, file))
        if key in found:
            raise DefinitionError(file, f"line {line}, {key}", "this key stands twice", "keep one of them")
        found[key] = _plain(next(events), events, (*place, key), lines, file)
    return found


_MENDS = {
    "missing": "add it",
    "extra_forbidden": "remove it or mend its spelling",
    "literal_error": "use one of those",
    "enum": "use one of those",
    "float_parsing": "write a plain number",
    "int_parsing": "write a whole number",
}


def _mend(kind: str) -> str:
    return _MENDS.get(kind, "see the dialog recipes in DEVELOPERS.md")
