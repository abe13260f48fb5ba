"""What a clause can mean, as names.

They read ``value``, ``yes``, ``command:repeat``, ``report:stopped``, ``option:drive.each`` …
"""

from __future__ import annotations

from collections.abc import Iterator

from engine.data.languages import LANGUAGES
from engine.expectation import Asking, Expectation, SlotKind
from engine.intents import Command, Topic

VALUE, NAME, DECLINED, YES, NO = "value", "name", "declined", "yes", "no"
LEFT_OUT, TAKEN_IN, OTHER = "left_out", "taken_in", "other"
"""``declined``: he does not know or does not say; ``other``: not meant for the program, or not so now."""

NUMBERED = frozenset({SlotKind.MEASURE, SlotKind.COUNT, SlotKind.SETTING, SlotKind.DIAL})


UNNAMED = frozenset({Command.SKIP, Command.LANGUAGE})
"""Commands that have a meaning of another name: ``declined``, and ``language:`` with the code of one."""


def possible(expectation: Expectation) -> frozenset[str]:
    """All that a clause may mean under an expectation."""
    return frozenset(_possible(expectation))


def _possible(expectation: Expectation) -> Iterator[str]:
    yield OTHER
    yield from (f"command:{command}" for command in Command if command not in UNNAMED)
    yield from (f"language:{code}" for code in LANGUAGES)
    yield from (f"topic:{topic}" for topic in Topic)
    yield from (f"open:{dialog}" for dialog in expectation.dialogs)
    yield from (f"report:{report}" for report in expectation.reports)
    slots = (*expectation.slots, *expectation.known, *expectation.anywhere)
    if any(slot.kind in NUMBERED for slot in slots):
        yield VALUE
    if expectation.asking is Asking.SLOT:
        yield DECLINED
        yield from (YES, NO) if expectation.slots[0].kind is not SlotKind.CHOICE else ()
        if expectation.slots[0].kind is SlotKind.TEXT:
            yield NAME
    elif expectation.asking in (Asking.CONFIRM, Asking.CHOOSE):
        yield from (YES, NO)
    yield from (
        f"option:{slot.name}.{option.key}"
        for slot in slots
        if slot.kind is SlotKind.CHOICE and (slot not in expectation.known or not slot.per_row)
        for option in slot.options
    )
    if not expectation.reports and expectation.rows:
        yield from (LEFT_OUT, TAKEN_IN)
