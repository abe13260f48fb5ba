"""Stored facts of earlier formats brought up to the present one: pure steps, old body to new body.

A body without a number is of the first format. Each format that was ever released stays readable; what a step adds is
what was true when the fact was written.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from engine.dialog.schema.script_formats import FIRST_DIALOGS
from engine.shift.record.first_facts import noted

Body = dict[str, object]
FIRST, FORMAT = 1, 2


def brought_up(body: Body) -> Body:
    """A body in the present format, without its number. Raises ValueError for a format of another release."""
    number = body.get("format", FIRST)
    if not isinstance(number, int) or not FIRST <= number <= FORMAT:
        raise ValueError(f"format {number} is not known here")
    for step in range(number, FORMAT):
        body = STEPS[step](body)
    return {name: value for name, value in body.items() if name != "format"}


def _meaning_declared(body: Body) -> Body:
    """Format 2: a dialog that begins says what its names mean, one that begins or ends what it is for, and a report of
    a shift holds instants."""
    match body:
        case {"kind": "started", "dialog": str(dialog)} if dialog in FIRST_DIALOGS:
            first = FIRST_DIALOGS[dialog]
            return {**body, "phase": first.phase, "records": first.records}
        case {"kind": "finished" | "cancelled", "dialog": str(dialog)} if dialog in FIRST_DIALOGS:
            return {**body, "phase": FIRST_DIALOGS[dialog].phase}
        case {"kind": "noted"}:
            return noted(body)
        case _:
            return body


STEPS: Mapping[int, Callable[[Body], Body]] = {1: _meaning_declared}
"""From each format to the next."""
