"""Judges that nobody here wrote: aiogram's models, read with the first server since that takes seconds, and the
Bot API's own description where its file is given."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, Protocol

from pydantic import BaseModel, TypeAdapter, ValidationError

DESCRIPTION = "ROWHAND_TELEGRAM_API"


class Judge(Protocol):
    """Finds what is wrong in a request, a result or an update; nothing found is an empty list."""

    def request(self, method: str, parameters: dict[str, Any]) -> list[str]: ...
    def result(self, method: str, value: Any) -> list[str]: ...
    def update(self, value: dict[str, Any]) -> list[str]: ...


class AiogramJudge:
    """aiogram's pydantic models, read when there is one; a field they do not know counts as wrong."""

    def __init__(self) -> None:
        import aiogram.methods
        from aiogram.types import Update

        self._methods, self._update = aiogram.methods, Update

    def request(self, method: str, parameters: dict[str, Any]) -> list[str]:
        return self._judge(self._method(method), parameters, method)

    def result(self, method: str, value: Any) -> list[str]:
        return self._judge(self._method(method).__returning__, value, f"result of {method}")

    def update(self, value: dict[str, Any]) -> list[str]:
        return self._judge(self._update, value, "update")

    def _method(self, name: str) -> Any:
        return getattr(self._methods, name[0].upper() + name[1:])

    def _judge(self, kind: Any, value: Any, what: str) -> list[str]:
        try:
            read = _adapter(kind).validate_python(value)
        except ValidationError as error:
            return [f"aiogram: {what}: {one['loc']}: {one['msg']}" for one in error.errors(include_url=False)]
        return [f"aiogram: {what}: no such field: {name}" for name in _extras(read)]


@cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


def _extras(value: Any, place: str = "") -> Iterator[str]:
    if isinstance(value, BaseModel):
        yield from (f"{place}{name}" for name in value.model_extra or {})
        for name in value.model_fields_set & type(value).model_fields.keys():
            yield from _extras(getattr(value, name), f"{place}{name}.")
    elif isinstance(value, list):
        for one in value:
            yield from _extras(one, place)


class DescriptionJudge:
    """The published description of methods and types, read from its file."""

    def __init__(self, path: Path) -> None:
        description = json.loads(path.read_text(encoding="utf-8"))
        self.methods: dict[str, Any] = description["methods"]
        self.types: dict[str, Any] = description["types"]
        self.version: str = description["version"]

    def request(self, method: str, parameters: dict[str, Any]) -> list[str]:
        if method not in self.methods:
            return [f"description: no method {method}"]
        return list(self._fields(self.methods[method].get("fields", []), parameters, method))

    def result(self, method: str, value: Any) -> list[str]:
        return list(self._any(self.methods[method]["returns"], value, f"result of {method}"))

    def update(self, value: dict[str, Any]) -> list[str]:
        kinds = [name for name in value if name != "update_id"]
        more = [] if len(kinds) == 1 else [f"description: an update of {kinds}"]
        return [*self._any(["Update"], value, "update"), *more]

    def _fields(self, fields: list[dict[str, Any]], value: dict[str, Any], place: str) -> Iterator[str]:
        known = {field["name"]: field for field in fields}
        for name in value.keys() - known.keys():
            yield f"description: {place}: no such field: {name}"
        for name, field in known.items():
            if name in value:
                yield from self._any(field["types"], value[name], f"{place}.{name}")
                yield from _length(field["description"], value[name], f"{place}.{name}")
            elif field["required"]:
                yield f"description: {place}: {name} is missing"

    def _any(self, kinds: list[str], value: Any, place: str) -> list[str]:
        """Nothing when one of the kinds fits; else what the nearest of them finds."""
        findings = [list(self._one(kind, value, place)) for kind in kinds]
        return min(findings, key=len)

    def _one(self, kind: str, value: Any, place: str) -> Iterator[str]:
        if kind.startswith("Array of "):
            yield from self._list(kind.removeprefix("Array of "), value, place)
        elif kind in PLAIN:
            if type(value) not in PLAIN[kind]:
                yield f"description: {place}: {kind} expected, found {type(value).__name__}"
        elif kind == "InputFile":
            if not isinstance(value, str):
                yield f"description: {place}: a file expected"
        elif "subtypes" in self.types[kind]:
            yield from self._any(self.types[kind]["subtypes"], value, place)
        elif not isinstance(value, dict):
            yield f"description: {place}: {kind} expected, found {type(value).__name__}"
        else:
            yield from self._fields(self.types[kind].get("fields", []), value, place)

    def _list(self, kind: str, value: Any, place: str) -> Iterator[str]:
        if not isinstance(value, list):
            yield f"description: {place}: a list expected, found {type(value).__name__}"
            return
        for number, one in enumerate(value):
            yield from self._one(kind, one, f"{place}[{number}]")


PLAIN: dict[str, tuple[type, ...]] = {
    "Integer": (int,),
    "String": (str,),
    "Boolean": (bool,),
    "True": (bool,),
    "Float": (int, float),
}


def _length(description: str, value: Any, place: str) -> Iterator[str]:
    """Lengths stand in the words of the description: "1-4096 characters", "1-64 bytes"."""
    found = re.search(r"(\d+)-(\d+) (characters|bytes)", description)
    if found and isinstance(value, str):
        size = len(value.encode()) if found[3] == "bytes" else len(value)
        if not int(found[1]) <= size <= int(found[2]):
            yield f"description: {place}: {size} {found[3]}, allowed are {found[1]}-{found[2]}"


def judges() -> list[Judge]:
    """All that are at hand; the description only where the environment names its file."""
    path = os.environ.get(DESCRIPTION)
    return [AiogramJudge(), *([description(Path(path))] if path else [])]


_descriptions: dict[Path, DescriptionJudge] = {}


def description(path: Path) -> DescriptionJudge:
    """The description of this file, read once."""
    if path not in _descriptions:
        _descriptions[path] = DescriptionJudge(path)
    return _descriptions[path]
