"""Definitions that stand in several files: what holds in every language, and beside it the texts of each language.

A language is a folder below that of the dialogs. The texts of ``units.yaml`` stand in ``en/units.yaml``, at the same
places, and so on. Here they come together: what is one text in each file becomes one entry by language. Every place
remembers the file and line it came from.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from engine.data.definitions import Definition, Place, read_definition
from engine.data.languages import LANGUAGES, languages_of
from engine.errors import DefinitionError

FORMAT = "1"
TOLD = "~"
"""What stands in a dialog where each language has a text."""


@dataclass(frozen=True)
class Gathered(Definition):
    """One definition out of several files; ``tongues`` are those of the languages."""

    spots: Mapping[Place, tuple[Definition, Place]] = field(default_factory=dict)
    """For every place the file and the place there; for those of a text with the code of its language behind it."""
    tongues: Mapping[str, Definition] = field(default_factory=dict)

    def line(self, place: Place) -> int:
        while place not in self.spots and place:
            place = place[:-1]
        file, there = self.spots.get(place, (None, ()))
        return file.line(there) if file else 1

    def error(self, place: Place, wrong: str, mend: str) -> DefinitionError:
        """At the place in the file where it stands, or where it would have to stand in the file of its language."""
        code = place[-1] if place and place not in self.spots and place[-1] in self.tongues else None
        above: Place = place if code is None else place[:-1]
        rest: Place = ()
        while above and self._spot(above, code) is None:
            above, rest = above[:-1], (above[-1], *rest)
        found = self._spot(above, code)
        if found is None:
            return super().error(place, wrong, mend)
        file, there = found
        return file.error((*there, *rest), wrong, mend)

    def _spot(self, place: Place, code: str | int | None) -> tuple[Definition, Place] | None:
        return self.spots.get(place if code is None else (*place, code))

    def _stands(self, place: Place) -> bool:
        return place in self.spots or place[-1] in self.tongues


def languages_here(directory: Path) -> tuple[str, ...]:
    """The languages of a folder of dialogs; those of the package where it has none of its own."""
    return languages_of(directory) or LANGUAGES


def is_told_apart(definition: Definition) -> bool:
    """Whether its texts stand in the files of the languages."""
    return next(_places(definition.content), None) is not None


def gather(directory: Path, file: str, base: Definition | None = None, told: bool = False) -> Gathered:
    """The definition ``file`` of every language of a folder, laid over ``base``. DefinitionError where one is wrong.

    With ``told`` the base says where each text is: none may be missing, and none may stand elsewhere.
    """
    tongues = {code: _of_language(directory, code, file) for code in languages_here(directory)}
    laid = _Layers(base, told)
    for code, tongue in tongues.items():
        laid.lay(code, tongue)
    if told:
        for code, tongue in tongues.items():
            laid.complete(code, tongue)
    source = json.dumps(laid.content, ensure_ascii=False, indent=1)
    name = base.file if base else Path(file).name
    return Gathered(name, source, laid.content, {}, tuple(tongues), laid.spots, tongues)


def _of_language(directory: Path, code: str, file: str) -> Definition:
    found = read_definition(directory / code / file, f"{code}/{file}")
    if _mapping(found).get("format") != FORMAT:
        raise found.error(("format",), f'Input should be "{FORMAT}"', f'write format: "{FORMAT}"')
    return found


def _mapping(definition: Definition) -> dict[str, Any]:
    if not isinstance(definition.content, dict):
        raise definition.error((), "is not a mapping", "write keys and what belongs to them")
    return definition.content


class _Layers:
    """Texts of one language after the other, laid over what holds in all of them."""

    def __init__(self, base: Definition | None, told: bool) -> None:
        self.content: dict[str, Any] = {"format": FORMAT}
        self.spots: dict[Place, tuple[Definition, Place]] = {}
        self._told = told
        self._open: dict[Place, Place] = {}
        if base is not None:
            self.content = deepcopy(_mapping(base))
            self.spots = {place: (base, place) for place in base.lines}
            self._open = {place: there for place, there in _places(self.content) if told}

    def lay(self, code: str, tongue: Definition) -> None:
        self.spots.setdefault(("format",), (tongue, ("format",)))
        self.spots.setdefault((), (tongue, ()))
        self.spots[code,] = (tongue, ())
        texts = {key: value for key, value in _mapping(tongue).items() if key != "format"}
        self._lay(self.content, texts, (), (), code, tongue)

    def complete(self, code: str, tongue: Definition) -> None:
        """DefinitionError at the first text that a language lacks."""
        for place, there in self._open.items():
            if (*place, code) not in self.spots:
                raise tongue.error(there, f"{there[-1]} is missing", "add it: the dialog says it here")

    def _lay(self, over: Any, texts: Any, place: Place, there: Place, code: str, tongue: Definition) -> None:
        names = _names(over)
        for key, value in texts.items():
            here, at = (*place, names.get(key, key)), (*there, key)
            if self._told and key not in names:
                near = get_close_matches(str(key), [str(name) for name in names], 1)
                mend = f"did you mean {near[0]}?" if near else "remove it, or let the dialog say it"
                raise tongue.error(at, f"nothing is said at {key}", mend)
            self.spots.setdefault(here, (tongue, at))
            self.spots[(*here, code)] = (tongue, at)
            if isinstance(value, dict):
                inner = over[names[key]] if key in names else over.setdefault(key, {})
                if not isinstance(inner, dict | list):
                    raise tongue.error(at, f"{key} has no parts", "write one text")
                self._lay(inner, value, here, at, code, tongue)
            else:
                self._put(over, here, value, code, tongue, at)

    def _put(self, over: Any, here: Place, value: Any, code: str, tongue: Definition, at: Place) -> None:
        key = here[-1]
        if self._told and here not in self._open:
            raise tongue.error(at, f"nothing is said at {at[-1]}", f"remove it, or write {TOLD} there in the dialog")
        if _part(over, key) == TOLD:
            over[key] = {}
            self.spots[here] = (tongue, at)
        if not isinstance(over[key], dict):
            raise tongue.error(at, f"{key} is the same in every language", "leave it out here")
        over[key][code] = value
        for number in range(len(value)) if isinstance(value, list) else ():
            self.spots[(*here, code, number)] = (tongue, (*at, number))


def _part(over: Any, key: Any) -> Any:
    """A part of a mapping or a list; where there is none, a text goes there."""
    return over.get(key, TOLD) if isinstance(over, dict) else over[key]


def _names(over: Any) -> dict[Any, Any]:
    """What the parts of a mapping or of a list are called, and where they stand in it."""
    if isinstance(over, dict):
        return {key: key for key in over}
    return {called(item, number): number for number, item in enumerate(over)}


def called(item: Any, number: int) -> str:
    """How a part of a list is called where texts are given for it: by its id or formula, else by its number."""
    named = item.get("id") or item.get("formula") if isinstance(item, dict) else None
    return str(named) if named else f"step_{number + 1}"


def _places(content: Any, place: Place = (), there: Place = ()) -> Iterator[tuple[Place, Place]]:
    """Every place where a text is wanted, as it is in the definition and as it is called."""
    if isinstance(content, dict):
        for key, value in content.items():
            yield from _places(value, (*place, key), (*there, key))
    elif isinstance(content, list):
        for number, value in enumerate(content):
            yield from _places(value, (*place, number), (*there, called(value, number)))
    elif content == TOLD:
        yield place, there
