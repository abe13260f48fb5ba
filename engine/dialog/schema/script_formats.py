"""Dialog files of earlier formats brought up to the present one: pure steps, old content to new content.

A conversation of years ago is pinned to the text of its script, so each format that was ever released can be read. The
dialogs of the first release did not say yet what their names mean: that stands here, for scripts and facts of then.
Nothing is ever added to it: later dialogs say it themselves.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from engine.data.definitions import Definition, Plain


@dataclass(frozen=True)
class FirstDialog:
    """Phase; the names, with blanks between, each of which is what its role is called now; and roles that are a yes
    or no, each with its option."""

    phase: str
    names: str
    options: Mapping[str, Mapping[str, str]] = field(default_factory=dict)

    @property
    def records(self) -> dict[str, object]:
        """The records that its file would have had."""
        return {
            **{name: name for name in self.names.split()},
            **{role: dict(one) for role, one in self.options.items()},
        }


FIRST_DIALOGS: Mapping[str, FirstDialog] = {
    "ready-check": FirstDialog("readiness", "rows"),
    "set-up": FirstDialog(
        "set-up",
        "rows spacing dial drive product label_low label_high rate speed course catch_by tare scale_step "
        "density target target_tube",
    ),
    "test-run": FirstDialog(
        "calibration",
        "rows spacing dial drive product label_low label_high rate speed course catch_by tare scale_step "
        "density target target_tube tolerance dial_setting catch_mass catch_volume course_time "
        "true_speed again net row_rate expected_rate expected_low expected_high verdict next_setting "
        "error probability drive_factor common_off common_shift odd_row",
    ),
    "shift": FirstDialog(
        "shift",
        "rows spacing rate speed planned loaded in_use willing longest bag meter product lot field "
        "field_area course target target_tube tare tolerance label_low label_high dial_setting left_over",
    ),
    "put-away": FirstDialog(
        "storage",
        "left_over put_back gap",
        {"own_container": {"of": "container", "is": "own"}, "locked": {"of": "locked", "is": "safe"}},
    ),
}


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
