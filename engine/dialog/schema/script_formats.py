"""Dialog files of earlier formats brought up to the present one: pure steps, old content to new content.

A conversation of years ago is pinned to the text of its script, so each format that was ever released can be read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from engine.data.definitions import Definition, Plain
from engine.dialog.schema.first_release import FIRST_DIALOGS

Content = dict[str, Any]
RENAMED = {"tube": "target_tube"}
"""Roles of a watch that were called otherwise in format 1."""


def brought_up(definition: Definition) -> Definition:
    """A definition in the present format; what is of none that is known stays as it is, for the schema to refuse."""
    content: Plain = definition.content
    while isinstance(content, dict) and (step := STEPS.get(str(content.get("format")))):
        content = step(content)
    return replace(definition, content=content)


def _records_declared(old: Content) -> Content:
    """Format 2: a dialog says what it is for and what its names mean; a watch names its activity."""
    steps = [_activity(step) for step in old["steps"]] if isinstance(old.get("steps"), list) else old.get("steps")
    new = {**old, "format": "2"} | ({} if steps is None else {"steps": steps})
    first, names = FIRST_DIALOGS.get(str(old.get("dialog"))), set(_names(old))
    records: Content = {}
    if first:
        records = {role: name for role, name in first.records.items() if _held(name) in names}
        new.setdefault("phase", first.phase)
    for step in old["steps"] if isinstance(old.get("steps"), list) else ():
        if isinstance(step, dict) and isinstance(step.get("watch"), dict):
            records |= {RENAMED.get(role, role): name for role, name in step["watch"].items()}
    return {"records": records, **new} if records else new


def _activity(step: Any) -> Any:
    return {**step, "watch": "shift"} if isinstance(step, dict) and isinstance(step.get("watch"), dict) else step


def _held(meant: object) -> str:
    return str(meant["of"]) if isinstance(meant, dict) else str(meant)


def _names(content: Content) -> Iterator[str]:
    """Every name that a dialog has: asked, taken, preset, looked back at or computed."""
    for key in ("slots", "takes", "may_take", "presets", "stood", "recalls"):
        yield from map(str, content.get(key) or ())
    for step in content.get("steps") or ():
        into = step.get("into") if isinstance(step, dict) else None
        yield from map(str, into.values()) if isinstance(into, dict) else ()


STEPS: Mapping[str, Callable[[Content], Content]] = {"1": _records_declared}
"""From each earlier format to the next one."""
