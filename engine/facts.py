"""Every fact of a conversation to its JSON form and back, whatever room it belongs to and whatever its format."""

from __future__ import annotations

from pydantic import ValidationError

from engine.dialog.activity import ActivityFact
from engine.dialog.facts.events import DIALOG_FACT, Fact
from engine.errors import UnreadableFact
from engine.fact_formats import FIRST, FORMAT, Body, brought_up
from engine.shift import ShiftActivity  # noqa: F401


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
