"""Commands that are imported when one of them is asked for, so that starting the program costs only what it runs."""

from __future__ import annotations

from collections import UserDict
from collections.abc import Mapping
from importlib import import_module
from typing import Any, ClassVar, cast

import typer
from typer.core import TyperCommand, TyperGroup
from typer.main import get_group

LatePlace = tuple[str, str]
"""Where a command is, as ``module:attribute`` of a function or a ``typer.Typer``, and its purpose in a sentence."""


class Late(TyperGroup):
    """A group with further commands in ``places``: listed by their sentences, imported when one of them is run."""

    places: ClassVar[Mapping[str, LatePlace]] = {}

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.commands = cast("dict[str, Any]", _Commands({**self.places, **self.commands}))

    def list_commands(self, ctx: Any) -> list[str]:  # noqa: ARG002
        return list(self.commands)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """A command as it is listed."""
        place = self.commands.data.get(cmd_name)  # type: ignore[attr-defined]
        return TyperCommand(cmd_name, help=place[1]) if isinstance(place, tuple) else super().get_command(ctx, cmd_name)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """The command itself, which now is to be run."""
        name, found, rest = super().resolve_command(ctx, args)
        return name, self.commands[name] if found and name else found, rest


def late(**places: LatePlace) -> type[Late]:
    """The class of a group with these commands."""
    return type("Commands", (Late,), {"places": places})


class _Commands(UserDict[str, Any]):
    """Commands by name; one that is still a place is imported when it is taken."""

    def __getitem__(self, name: str) -> Any:
        if isinstance(self.data[name], tuple):
            self.data[name] = _imported(name, self.data[name][0])
        return self.data[name]


def _imported(name: str, place: str) -> Any:
    module, _, attribute = place.partition(":")
    what = getattr(import_module(module), attribute)
    grouped = isinstance(what, typer.Typer)
    around = typer.Typer(rich_markup_mode=what.rich_markup_mode) if grouped else typer.Typer()
    if grouped:
        around.add_typer(what, name=name)
    else:
        around.command(name)(what)
    return get_group(around).commands[name]
