"""Commands that are imported when one of them is asked for, so that starting the program costs only what it runs."""

from __future__ import annotations

from collections import UserDict
from collections.abc import Mapping
from importlib import import_module
from typing import Any, ClassVar, cast

import typer
from typer.core import TyperGroup
from typer.main import get_group


class Late(TyperGroup):
    """A group with further commands in ``places``: name to ``module:attribute``, a function or a ``typer.Typer``."""

    places: ClassVar[Mapping[str, str]] = {}

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.commands = cast("dict[str, Any]", _Commands({**self.places, **self.commands}))

    def list_commands(self, ctx: Any) -> list[str]:  # noqa: ARG002
        return list(self.commands)


def late(**places: str) -> type[Late]:
    """The class of a group with these commands."""
    return type("Commands", (Late,), {"places": places})


class _Commands(UserDict[str, Any]):
    """Commands by name; one that is still a place is imported when it is taken."""

    def __getitem__(self, name: str) -> Any:
        if isinstance(self.data[name], str):
            self.data[name] = _imported(name, self.data[name])
        return self.data[name]


def _imported(name: str, place: str) -> Any:
    module, _, attribute = place.partition(":")
    what = getattr(import_module(module), attribute)
    around = typer.Typer()
    if isinstance(what, typer.Typer):
        around.add_typer(what, name=name)
    else:
        around.command(name)(what)
    return get_group(around).commands[name]
