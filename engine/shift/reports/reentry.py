"""Re-entry into a field that is left while the shift goes on: until when to keep out, and what the field has got."""

from __future__ import annotations

from engine.dialog.facts.register import same_name
from engine.dialog.taking.application_taking import say_treated
from engine.shift.record.shift_names import FIELD, name_at
from engine.shift.record.shift_state import ShiftState
from engine.shift.turn import ShiftTurn


def tell_left(turn: ShiftTurn, was: ShiftState) -> None:
    """Say it of the field that the shift has moved on from, for each product that it got; ``was`` is the shift before
    that was told. Nothing of a name that is put right before anything was planted."""
    here = turn.shift.applied()
    left = name_at(was.names, FIELD, turn.when)
    for one in here:
        if (one.field is None and left is None) or same_name(one.field, left):
            say_treated(turn.walk, turn.shift.by_the_wall(one), here)
