"""Commands that are imported when one of them is asked for, so that starting the program costs only what it runs."""

from __future__ import annotations

from collections import UserDict
from collections.abc import Mapping, Sequence
from enum import StrEnum
from importlib import import_module
from importlib.util import find_spec
from typing import Any, ClassVar, NamedTuple, cast

import typer
from typer.core import TyperCommand, TyperGroup
from typer.main import get_group

from bot.extras import Extra, NotInstalled, need


class CommandPanel(StrEnum):
    """The headings that commands are listed under, in this order."""

    JOB = "The job"
    RECORD = "The record"
    CARE = "Looking after it"
    LABORATORY = "Laboratory"


class LatePlace(NamedTuple):
    """Where a command is, as ``module:attribute`` of a function or a ``typer.Typer``, and its purpose in a sentence.

    ``panel`` is the heading that it is listed under, ``extra`` what must be installed for it. Without its module a
    command of the ``laboratory`` is not listed, and what is said of it names the checkout.
    """

    place: str
    purpose: str
    panel: str | None = None
    extra: Extra | None = None
    laboratory: bool = False

    @property
    def module(self) -> str:
        return self.place.partition(":")[0]

    def is_there(self) -> bool:
        """Whether its module is installed; only the packages around a module of the laboratory are imported."""
        if not self.laboratory:
            return True
        try:
            return find_spec(self.module) is not None
        except ModuleNotFoundError:
            return False


class Late(TyperGroup):
    """A group with further commands in ``places``: listed by their sentences, imported when one of them is run."""

    places: ClassVar[Mapping[str, LatePlace]] = {}
    panels: ClassVar[Sequence[str]] = ()

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.commands = cast("dict[str, Any]", _Commands({**self.commands, **self.places}))

    def list_commands(self, ctx: Any) -> list[str]:  # noqa: ARG002
        """The commands that are there, panel by panel."""
        listed = [name for name in self.commands if name not in self.places or self.places[name].is_there()]
        return sorted(listed, key=self._panel)

    def _panel(self, name: str) -> int:
        held = self.commands.data[name]  # type: ignore[attr-defined]
        panel = held.panel if isinstance(held, LatePlace) else getattr(held, "rich_help_panel", None)
        return self.panels.index(panel) if panel in self.panels else -1

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """A command as it is listed."""
        held = self.commands.data.get(cmd_name)  # type: ignore[attr-defined]
        if not isinstance(held, LatePlace):
            return super().get_command(ctx, cmd_name)
        return TyperCommand(cmd_name, help=held.purpose, rich_help_panel=held.panel)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """The command itself, which now is to be run."""
        name, found, rest = super().resolve_command(ctx, args)
        return name, self.commands[name] if found and name else found, rest


def late(places: Mapping[str, LatePlace], panels: Sequence[str] = ()) -> type[Late]:
    """The class of a group with these commands, listed in the order of the panels."""
    return type("Commands", (Late,), {"places": places, "panels": panels})


class _Commands(UserDict[str, Any]):
    """Commands by name; one that is still a place is imported when it is taken."""

    def __getitem__(self, name: str) -> Any:
        held = self.data[name]
        if isinstance(held, LatePlace):
            self.data[name] = _imported(name, held)
        return self.data[name]


def _imported(name: str, place: LatePlace) -> Any:
    """The command; raises NotInstalled where it, or what it needs, is not on this computer."""
    if not place.is_there():
        raise NotInstalled(f"{name} is of the laboratory, which comes with the checkout of Rowhand alone: run it there")
    if place.extra:
        need(place.extra)
    what = getattr(import_module(place.module), place.place.partition(":")[2])
    grouped = isinstance(what, typer.Typer)
    around = typer.Typer(rich_markup_mode=what.rich_markup_mode) if grouped else typer.Typer()
    if grouped:
        around.add_typer(what, name=name, rich_help_panel=place.panel)
    else:
        around.command(name, rich_help_panel=place.panel)(what)
    return get_group(around).commands[name]
