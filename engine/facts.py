"""Every fact of a conversation to its JSON form and back, whatever room it belongs to and whatever its format.

Those of earlier formats are brought up to the present one by pure steps, old body to new body. A body without a number
is of the first format. Each format that was ever released stays readable; what a step adds is what was true when the
fact was written.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from pydantic import ValidationError

from engine.dialog.activity import ActivityFact
from engine.dialog.facts.events import DIALOG_FACT, Fact
from engine.dialog.schema.script_formats import FIRST_DIALOGS
from engine.errors import UnreadableFact
from engine.shift import ShiftActivity  # noqa: F401
from engine.shift.record.first_facts import noted

Body = dict[str, object]
FIRST, FORMAT = 1, 2


def read_fact(body: Body) -> Fact:
    """A fact from its JSON form of this format or an earlier one; UnreadableFact where it is neither."""
    try:
        new = brought_up(body)
        found = ActivityFact.known.get(str(new.get("kind")))
        return DIALOG_FACT.validate_python(new) if found is None else found.model_validate(new)  # type: ignore[return-value]
    except (ValidationError, KeyError, TypeError, ValueError) as error:
        raise UnreadableFact(str(body.get("kind")), body.get("format", FIRST)) from error


def write_fact(fact: Fact) -> Body:
    """The JSON form of a fact, with the number of its format."""
    return {**fact.model_dump(mode="json", by_alias=True), "format": FORMAT}


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
