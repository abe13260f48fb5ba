"""Every fact of a conversation to its JSON form and back, whatever room it belongs to."""

from __future__ import annotations

from engine.dialog.activity import ActivityFact
from engine.dialog.events import DIALOG_FACT, Fact
from engine.shift import ShiftActivity  # noqa: F401


def read_fact(body: dict[str, object]) -> Fact:
    """A fact from its JSON form."""
    found = ActivityFact.known.get(str(body.get("kind")))
    return DIALOG_FACT.validate_python(body) if found is None else found.model_validate(body)  # type: ignore[return-value]


def write_fact(fact: Fact) -> dict[str, object]:
    """The JSON form of a fact."""
    return fact.model_dump(mode="json")
