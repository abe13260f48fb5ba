"""What the schema of a dialog file cannot see: whether the parts of the dialogs fit each other."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

from engine.data.definitions import Definition
from engine.dialog.checks import asking, call, cases, control_flow, declarations, references
from engine.dialog.schema import symbol_table
from engine.dialog.schema.script import Compute, Script
from engine.dialog.schema.script_fault import ScriptFault, nearest
from engine.errors import DefinitionError


@dataclass(frozen=True)
class Draft:
    """A script that fits the schema, with the file it came from."""

    definition: Definition
    script: Script


def check(drafts: Sequence[Draft], broken: frozenset[str] = frozenset()) -> tuple[DefinitionError, ...]:
    """Every problem of these dialogs, line by line; the files of ``broken`` dialogs do not parse."""
    scripts = {draft.script.dialog: draft.script for draft in drafts}
    found: list[DefinitionError] = []
    for number, draft in enumerate(drafts):
        others = [earlier.script for earlier in drafts[:number]]
        faults = chain(script_faults(draft.script, scripts, broken), declarations.dialog_faults(draft.script, others))
        found += _errors(draft.definition, faults)
    return tuple(found)


def _errors(definition: Definition, faults: Iterator[ScriptFault]) -> list[DefinitionError]:
    once = dict.fromkeys(faults)
    return [definition.error(*fault) for fault in sorted(once, key=lambda fault: definition.line(fault.place))]


def script_faults(script: Script, scripts: Mapping[str, Script], broken: frozenset[str]) -> Iterator[ScriptFault]:
    """All that is wrong in one script, among the scripts of its library."""
    yield from _after_faults(script, scripts, broken)
    here = symbol_table.scope(script, scripts)
    yield from symbol_table.name_faults(here)
    yield from control_flow.shape_faults(script)
    yield from control_flow.knowledge_faults(here)
    yield from asking.faults(here)
    for number, step in enumerate(script.steps):
        yield from references.step_faults(here, number)
        yield from cases.faults(here, number)
        if isinstance(step, Compute):
            yield from call.step_faults(step, ("steps", number), here)
    for name, slot in script.slots.items():
        for number, one in enumerate(slot.checks):
            yield from call.check_faults(one, name, ("slots", name, "checks", number), here)
    yield from declarations.faults(script, here.types)
    yield from references.plain_faults(script)
    yield from references.result_faults(here)
    yield from declarations.slot_faults(script)


def _after_faults(script: Script, scripts: Mapping[str, Script], broken: frozenset[str]) -> Iterator[ScriptFault]:
    if script.after is None or script.after in broken:
        return
    if script.after not in scripts:
        mend = nearest(script.after, scripts, "name a dialog of this directory")
        yield ScriptFault(("after",), f"there is no dialog {script.after}", mend)
        return
    if script.dialog in _before(script.after, scripts):
        yield ScriptFault(("after",), f"{script.dialog} would have to come before itself", "break the circle")
        return
    left = symbol_table.left(scripts[script.after])
    for key, names in (("takes", script.takes), ("may_take", script.may_take)):
        for number, name in enumerate(names):
            if name not in left:
                mend = nearest(name, left, "take another name")
                yield ScriptFault((key, number), f"{script.after} leaves nothing called {name}", mend)


def _before(dialog: str, scripts: Mapping[str, Script]) -> tuple[str, ...]:
    """A dialog and those that come before it, each once."""
    found: list[str] = []
    here: str | None = dialog
    while here is not None and here not in found:
        found.append(here)
        here = scripts[here].after if here in scripts else None
    return tuple(found)
